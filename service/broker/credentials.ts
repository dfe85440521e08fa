/** Passwords, certificates and keys, which stand in files of their own and in no settings file. */
import { createPrivateKey, X509Certificate } from "node:crypto";
import type { KeyObject } from "node:crypto";
import { readFile, stat } from "node:fs/promises";
import { UserError } from "../errors.ts";
import type { BrokerAccess } from "./access.ts";
import { readSystemAuthorities } from "./system-authorities.ts";

export interface TlsMaterial {
  /** PEM; null: what Node itself trusts. */
  readonly ca: string | null;
  readonly own: CertificateWithKey | null;
  readonly serverName: string | null;
}

/** Both PEM. */
export interface CertificateWithKey {
  readonly certificate: string;
  readonly key: string;
}

export interface Credentials {
  readonly password: string | null;
  /** null: without TLS. */
  readonly tls: TlsMaterial | null;
}

/** @throws UserError if a file can't be read, or holds something else. */
export async function readCredentials(access: BrokerAccess): Promise<Credentials> {
  return { password: await passwordOf(access), tls: await tlsOf(access) };
}

async function passwordOf({ password }: BrokerAccess): Promise<string | null> {
  switch (password.kind) {
    case "none":
      return null;
    case "known":
      return password.password;
    case "file":
      return readPassword(password.file, "broker.passwordFile");
  }
}

/** @throws UserError if it can't be read, or is empty. */
export async function readPassword(file: string, key: string): Promise<string> {
  const refusal = { code: "password-file-unreadable", where: file, key };
  const expected = "a file with the password alone, readable by the service";
  let text: string;
  try {
    text = await readFile(file, "utf8");
  } catch (error) {
    throw new UserError([{ ...refusal, found: messageOf(error), expected }]);
  }
  const password = text.replace(/\r?\n$/u, "");
  if (password !== "") return password;
  throw new UserError([{ ...refusal, found: "an empty file", expected }]);
}

async function tlsOf({ url, tls }: BrokerAccess): Promise<TlsMaterial | null> {
  if (!url.startsWith("mqtts:")) return null;
  const { caFile, certificateFile, keyFile, serverName } = tls;
  const ca = caFile === null ? await readSystemAuthorities() : await readAuthorities(caFile);
  const hasOwn = certificateFile !== null && keyFile !== null;
  const own = hasOwn
    ? await readCertificateWithKey({ certificateFile, keyFile, at: "broker.tls" })
    : null;
  return { ca, own, serverName };
}

async function readAuthorities(file: string): Promise<string> {
  const text = await readPem({ file, key: "broker.tls.ca", what: "a certificate" });
  parseCertificates(text, { file, key: "broker.tls.ca" });
  return text;
}

/** @throws UserError if a file can't be read or parsed, or the key belongs to another. */
export async function readCertificateWithKey(files: {
  readonly certificateFile: string;
  readonly keyFile: string;
  /** Dotted path of the section that names the two. */
  readonly at: string;
}): Promise<CertificateWithKey> {
  const { certificateFile, keyFile, at } = files;
  const certificateAt = { file: certificateFile, key: `${at}.certificate` };
  const keyAt = { file: keyFile, key: `${at}.key` };
  const certificate = await readPem({ ...certificateAt, what: "a certificate" });
  const key = await readPem({ ...keyAt, what: "a private key" });
  const own = parseCertificates(certificate, certificateAt);
  if (own?.checkPrivateKey(parseKey(key, keyAt)) !== true) {
    throw new UserError([
      {
        code: "tls-key-mismatch",
        where: keyFile,
        key: keyAt.key,
        found: "the key of another certificate",
        expected: `the key of the first certificate in ${certificateFile}`,
      },
    ]);
  }
  return { certificate, key };
}

interface FileKey {
  readonly file: string;
  readonly key: string;
}

async function readPem({ file, key, what }: FileKey & { readonly what: string }): Promise<string> {
  try {
    return await readFile(file, "utf8");
  } catch (error) {
    throw new UserError([
      {
        code: "tls-file-unreadable",
        where: file,
        key,
        found: messageOf(error),
        expected: `a PEM file with ${what}, readable by the service`,
      },
    ]);
  }
}

/** Node passes over what it cannot read among authorities: a garbled file would trust nobody. */
function parseCertificates(text: string, at: FileKey): X509Certificate | undefined {
  const blocks = text.match(/-----BEGIN CERTIFICATE-----[^-]*-----END CERTIFICATE-----/gu) ?? [];
  try {
    const certificates = blocks.map((block) => new X509Certificate(block));
    if (certificates.length > 0) return certificates[0];
  } catch {
    // Said below, as for a file without any.
  }
  throw garbage(at, "a certificate in PEM form (-----BEGIN CERTIFICATE-----)");
}

function parseKey(text: string, at: FileKey): KeyObject {
  try {
    return createPrivateKey(text);
  } catch {
    throw garbage(at, "a private key in PEM form, without a passphrase");
  }
}

function garbage({ file, key }: FileKey, expected: string): UserError {
  const found = "something else";
  return new UserError([{ code: "tls-file-garbled", where: file, key, found, expected }]);
}

/** Of the files that only the service should read, those that everybody on the machine can. */
export async function filesOpenToAll(access: BrokerAccess): Promise<readonly string[]> {
  const { password, tls } = access;
  const secrets = [password.kind === "file" ? password.file : null, tls.keyFile];
  const open: string[] = [];
  for (const file of secrets) if (file !== null && (await isOpenToAll(file))) open.push(file);
  return open;
}

export async function isOpenToAll(file: string): Promise<boolean> {
  const { mode } = await stat(file);
  return (mode & 0o004) !== 0;
}

function messageOf(error: unknown): string {
  return error instanceof Error ? error.message : String(error);
}
