/** A text file as blocks of whole lines, so that memory does not grow with the file. */
import { closeSync, openSync, readSync } from "node:fs";
import { UserError } from "../../service/errors.ts";

const BLOCK_BYTES = 262_144;

export interface TextBlock {
  /** Number of its first line in the file, from 1. */
  readonly firstLine: number;
  /** Without line ends; a carriage return at the end of a line is taken off. */
  readonly lines: readonly string[];
  /** The last line has no line end: it may have been cut off. */
  readonly isCut: boolean;
}

/** @throws UserError if it cannot be read, or holds something that is no text. */
export function* fileBytes(path: string): Generator<Uint8Array> {
  const file = openFile(path);
  try {
    for (;;) {
      const bytes = new Uint8Array(BLOCK_BYTES);
      const length = readSync(file, bytes);
      if (length === 0) return;
      yield bytes.subarray(0, length);
    }
  } finally {
    closeSync(file);
  }
}

const FILE_ANSWERS: Readonly<Record<string, string>> = {
  ENOENT: "no such file",
  EISDIR: "a folder",
  EACCES: "may not be read",
  ENOTDIR: "a path through something that is no folder",
};

function openFile(path: string): number {
  try {
    const file = openSync(path, "r");
    // A folder can be opened; only reading it fails.
    readSync(file, new Uint8Array(1), { position: 0 });
    return file;
  } catch (error) {
    throw unreadable(path, error);
  }
}

/** @returns The user's error that it is, or the error itself if it is the machine's. */
export function unreadable(path: string, error: unknown): unknown {
  const code = error instanceof Error && "code" in error ? String(error.code) : "";
  const found = FILE_ANSWERS[code];
  if (found === undefined) return error;
  return new UserError([{ code: "file-unreadable", where: path, found, expected: "a day file" }]);
}

export interface TextSource {
  /** Where messages point. */
  readonly name: string;
  readonly bytes: Iterable<Uint8Array>;
  /** A label that the Encoding standard knows, such as utf-8 or windows-1252. */
  readonly encoding: string;
}

/** A mark of byte order is taken off; empty files give no block. */
export function* textBlocks(source: TextSource): Generator<TextBlock> {
  const decoder = new TextDecoder(source.encoding, { fatal: true });
  let rest = "";
  let firstLine = 1;
  for (const bytes of source.bytes) {
    if (firstLine === 1 && rest === "") refuseForeign(bytes, source);
    const text = rest + decoded(() => decoder.decode(bytes, { stream: true }));
    const end = text.lastIndexOf("\n");
    rest = text.slice(end + 1);
    if (end < 0) continue;
    const lines = splitLines(text.slice(0, end));
    yield { firstLine, lines, isCut: false };
    firstLine += lines.length;
  }
  rest += decoded(() => decoder.decode());
  if (rest !== "") yield { firstLine, lines: splitLines(rest), isCut: true };

  function decoded(decode: () => string): string {
    try {
      return decode();
    } catch {
      const found = `bytes that are not ${source.encoding}`;
      const where = `${source.name}:${firstLine}`;
      const expected = `a text in ${source.encoding}, from about this line on`;
      throw new UserError([{ code: "not-text", where, found, expected }]);
    }
  }
}

function splitLines(text: string): readonly string[] {
  return text.split("\n").map((line) => (line.endsWith("\r") ? line.slice(0, -1) : line));
}

const MARKS: readonly { readonly bytes: readonly number[]; readonly found: string }[] = [
  { bytes: [0x1f, 0x8b], found: "a gzip archive" },
  { bytes: [0x50, 0x4b, 3, 4], found: "a zip archive or a spreadsheet" },
  { bytes: [0x50, 0x41, 0x52, 0x31], found: "a Parquet file" },
  { bytes: [0xff, 0xfe], found: "text in UTF-16" },
  { bytes: [0xfe, 0xff], found: "text in UTF-16" },
];

function refuseForeign(bytes: Uint8Array, { name, encoding }: TextSource): void {
  const mark = MARKS.find((one) => one.bytes.every((byte, i) => bytes[i] === byte));
  const isUtf16 = encoding.startsWith("utf-16");
  const isBinary = mark === undefined && !isUtf16 && bytes.includes(0);
  if (!isBinary && (mark === undefined || (isUtf16 && mark.found.includes("UTF-16")))) return;
  const found = mark?.found ?? "binary data";
  throw new UserError([
    { code: "not-text", where: name, found, expected: `comma-separated text in ${encoding}` },
  ]);
}
