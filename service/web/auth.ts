/** The token that every write needs. */
import { randomBytes } from "node:crypto";
import { open, readFile } from "node:fs/promises";
import { UserError } from "../errors.ts";
import { isSameText } from "./sessions.ts";

const TOKEN_BYTES = 32;
const TOKEN_CHARACTERS_MIN = 16;

/**
 * Reads the token, or makes one at the first start, readable by its owner alone.
 *
 * @throws UserError if the file can neither be read nor made, or holds no token.
 */
export async function loadToken(file: string): Promise<string> {
  try {
    const handle = await open(file, "wx", 0o600);
    try {
      const token = randomBytes(TOKEN_BYTES).toString("base64url");
      await handle.writeFile(`${token}\n`);
      return token;
    } finally {
      await handle.close();
    }
  } catch (error) {
    if (!isAlreadyThere(error)) throw tokenError(file, error);
  }
  return readToken(file);
}

/** @throws UserError if there is no token to read. */
export async function readToken(file: string): Promise<string> {
  let token: string;
  try {
    token = (await readFile(file, "utf8")).trim();
  } catch (error) {
    throw unreadable(file, error);
  }
  if (token.length < TOKEN_CHARACTERS_MIN) throw unreadable(file, new Error("too short a text"));
  return token;
}

/** Takes as long for a wrong token as for the right one. */
export function isAuthorised(header: string | undefined, token: string): boolean {
  const given = /^Bearer ([A-Za-z0-9._~+/-]+=*)$/u.exec(header ?? "")?.[1] ?? "";
  return isSameText(given, token) && given !== "";
}

function isAlreadyThere(error: unknown): boolean {
  return error instanceof Error && "code" in error && error.code === "EEXIST";
}

function unreadable(file: string, error: unknown): UserError {
  const isMissing = error instanceof Error && "code" in error && error.code === "ENOENT";
  const found = error instanceof Error ? error.message : String(error);
  return new UserError([
    {
      code: "token-file",
      where: file,
      key: "web.tokenFile",
      found: isMissing ? "no such file" : found,
      expected: "the file with the token that `bywash serve` made at its first start",
    },
  ]);
}

function tokenError(file: string, error: unknown): UserError {
  return new UserError([
    {
      code: "token-file",
      where: file,
      key: "web.tokenFile",
      found: error instanceof Error ? error.message : String(error),
      expected: "a file of the service's own that holds the token, or a folder to make it in",
    },
  ]);
}
