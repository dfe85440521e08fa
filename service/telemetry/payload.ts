/**
 * From the bytes of a message to the one value of a signal, or the reason why there is none.
 *
 * Bounded before anything is parsed; nothing here throws on data. A number must be written as a
 * number: text in quotes, `null`, arrays and objects are refused, so that a publisher's "no value"
 * never becomes 0. Of a name that stands twice in one object the last value counts, as with every
 * reader of the language's own.
 */
import type { Decoding } from "../../config/site-settings.ts";
import type { ChargeStage } from "../control/observation.ts";
import type { IgnoredReason } from "./ignored.ts";

export type SignalValue = number | boolean | ChargeStage;

export type Decoded =
  | { readonly kind: "value"; readonly value: SignalValue }
  | { readonly kind: "ignored"; readonly reason: IgnoredReason };

/** How one signal is read, made once from its settings. */
export interface Reader {
  /** Names on the way to the field; null: the payload itself is the value. */
  readonly path: readonly string[] | null;
  readonly decoding: Decoding;
}

/** A message whose text and JSON are made at most once, however many signals read it. */
export interface Payload {
  readonly bytes: Uint8Array;
  text: TextResult | null;
  json: JsonResult | null;
}

type TextResult = { readonly text: string } | { readonly reason: IgnoredReason };
export type JsonResult = { readonly json: unknown } | { readonly reason: IgnoredReason };

const BYTES_MAX = 16_384;
const DEPTH_MAX = 16;
const NUMBER_CHARACTERS_MAX = 40;
/** The number grammar of JSON (RFC 8259, 6), with a leading + or point allowed as devices write. */
const NUMBER = /^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?$/u;
const NOT_FINITE = /^[+-]?(?:nan|inf(?:inity)?)$/iu;
const INDEX = /^(?:0|[1-9]\d{0,5})$/u;
/** One for all messages: making it costs more than most of them. */
const UTF8 = new TextDecoder("utf-8", { fatal: true });

const [QUOTE, BACKSLASH] = [0x22, 0x5c];
const [OPENING_BRACKET, CLOSING_BRACKET] = [0x5b, 0x5d];
const [OPENING_BRACE, CLOSING_BRACE] = [0x7b, 0x7d];

export function openPayload(bytes: Uint8Array): Payload {
  return { bytes, text: null, json: null };
}

/** The value that `reader` finds in a message. */
export function decodePayload(payload: Payload, reader: Reader): Decoded {
  if (reader.path === null) {
    const result = textOf(payload);
    if ("reason" in result) return ignored(result.reason);
    return decodePlain(result.text.trim(), reader.decoding);
  }
  const result = jsonOf(payload);
  if ("reason" in result) return ignored(result.reason);
  const found = follow(result.json, reader.path);
  if (found === undefined) return ignored("no-field");
  return decodeField(found, reader.decoding);
}

function textOf(payload: Payload): TextResult {
  return (payload.text ??= readUtf8(payload.bytes));
}

export function jsonOf(payload: Payload): JsonResult {
  return (payload.json ??= parseJson(textOf(payload)));
}

function readUtf8(bytes: Uint8Array): TextResult {
  if (bytes.byteLength > BYTES_MAX) return { reason: "too-large" };
  try {
    return { text: UTF8.decode(bytes) };
  } catch {
    return { reason: "not-utf8" };
  }
}

function parseJson(result: TextResult): JsonResult {
  if ("reason" in result) return result;
  if (isTooDeep(result.text)) return { reason: "too-deep" };
  try {
    return { json: JSON.parse(result.text) };
  } catch {
    return { reason: "not-json" };
  }
}

/** Counts brackets outside strings, so that the parser never recurses further than we allow. */
function isTooDeep(text: string): boolean {
  let depth = 0;
  let isInString = false;
  for (let at = 0; at < text.length; at += 1) {
    const code = text.charCodeAt(at);
    if (isInString) {
      if (code === BACKSLASH) at += 1;
      else if (code === QUOTE) isInString = false;
    } else if (code === QUOTE) isInString = true;
    else if (code === OPENING_BRACE || code === OPENING_BRACKET) {
      depth += 1;
      if (depth > DEPTH_MAX) return true;
    } else if (code === CLOSING_BRACE || code === CLOSING_BRACKET) depth -= 1;
  }
  return false;
}

/**
 * @param pointer - JSON pointer; "" is the whole document.
 * @returns The names on the way.
 * @source RFC 6901, sections 3 and 4: `~1` is `/`, `~0` is `~`.
 */
export function pointerPath(pointer: string): readonly string[] {
  if (pointer === "") return [];
  const names = pointer.slice(1).split("/");
  return names.map((name) => name.replaceAll("~1", "/").replaceAll("~0", "~"));
}

/**
 * @returns The member that the path leads to, or `undefined` if there is none.
 * @source RFC 6901, section 4: array indices without leading zero.
 */
export function follow(document: unknown, path: readonly string[]): unknown {
  let at: unknown = document;
  for (const name of path) {
    if (Array.isArray(at)) {
      const list: readonly unknown[] = at;
      at = INDEX.test(name) ? list[Number(name)] : undefined;
    } else if (isRecord(at)) {
      at = Object.hasOwn(at, name) ? at[name] : undefined;
    } else return undefined;
  }
  return at;
}

function isRecord(value: unknown): value is Readonly<Record<string, unknown>> {
  return typeof value === "object" && value !== null;
}

function decodePlain(text: string, decoding: Decoding): Decoded {
  if ("table" in decoding) return lookUp(text, decoding);
  if (text.length <= NUMBER_CHARACTERS_MAX && NUMBER.test(text)) {
    return scaled(Number(text), decoding);
  }
  return ignored(NOT_FINITE.test(text) ? "not-finite" : "wrong-type");
}

function decodeField(field: unknown, decoding: Decoding): Decoded {
  if (!("table" in decoding)) {
    return typeof field === "number" ? scaled(field, decoding) : ignored("wrong-type");
  }
  if (typeof field === "string") return lookUp(field, decoding);
  if (typeof field === "number" || typeof field === "boolean") {
    return lookUp(String(field), decoding);
  }
  return ignored("wrong-type");
}

type NumberDecoding = Extract<Decoding, { kind: "number" | "aboveZero" }>;

function scaled(raw: number, decoding: NumberDecoding): Decoded {
  if (!Number.isFinite(raw)) return ignored("not-finite");
  if (decoding.kind === "aboveZero") return { kind: "value", value: raw > 0 ? 1 : 0 };
  const value = raw * decoding.scale + decoding.offset;
  return Number.isFinite(value) ? { kind: "value", value } : ignored("not-finite");
}

function lookUp(text: string, decoding: Exclude<Decoding, NumberDecoding>): Decoded {
  const table: Readonly<Record<string, SignalValue>> = decoding.table;
  const value = Object.hasOwn(table, text) ? table[text] : undefined;
  return value === undefined ? ignored("unknown-word") : { kind: "value", value };
}

function ignored(reason: IgnoredReason): Decoded {
  return { kind: "ignored", reason };
}
