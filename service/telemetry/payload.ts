/**
 * From the bytes of a message to the one value of a signal, or the reason why there is none.
 *
 * Bounded before anything is parsed; nothing here throws on data. A number must be written as a
 * number: text in quotes, `null`, arrays and objects are refused, so that a publisher's "no value"
 * never becomes 0.
 */
import type { Decoding, SignalSettings } from "../../config/site-settings.ts";
import type { ChargeStage } from "../control/observation.ts";

export type SignalValue = number | boolean | ChargeStage;

/** Why a message, or one field of it, was not used. */
export type IgnoredReason =
  | "too-large"
  | "not-utf8"
  | "not-json"
  | "too-deep"
  | "no-field"
  | "wrong-type"
  | "not-finite"
  | "unknown-word"
  | "out-of-range";

export type Decoded =
  | { readonly kind: "value"; readonly value: SignalValue }
  | { readonly kind: "ignored"; readonly reason: IgnoredReason };

/** A message whose text and JSON are made at most once, however many signals read it. */
export interface Payload {
  readonly text: () => TextResult;
  readonly json: () => JsonResult;
}

type TextResult = { readonly text: string } | { readonly reason: IgnoredReason };
type JsonResult = { readonly json: unknown } | { readonly reason: IgnoredReason };

const BYTES_MAX = 16_384;
const DEPTH_MAX = 16;
const NUMBER_CHARACTERS_MAX = 40;
/** The number grammar of JSON (RFC 8259, 6), with a leading + or point allowed as devices write. */
const NUMBER = /^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?$/u;

export function zeroCounts(): Record<IgnoredReason, number> {
  return {
    "too-large": 0,
    "not-utf8": 0,
    "not-json": 0,
    "too-deep": 0,
    "no-field": 0,
    "wrong-type": 0,
    "not-finite": 0,
    "unknown-word": 0,
    "out-of-range": 0,
  };
}

export function openPayload(bytes: Uint8Array): Payload {
  let text: TextResult | null = null;
  let json: JsonResult | null = null;
  const readText = (): TextResult => (text ??= readUtf8(bytes));
  return {
    text: readText,
    json: () => (json ??= parseJson(readText())),
  };
}

/** The value of `signal` in a message on its topic. */
export function decodeSignal(payload: Payload, signal: SignalSettings): Decoded {
  if (signal.field === null) {
    const result = payload.text();
    if ("reason" in result) return ignored(result.reason);
    return decodePlain(result.text.trim(), signal.decoding);
  }
  const result = payload.json();
  if ("reason" in result) return ignored(result.reason);
  const found = resolvePointer(result.json, signal.field);
  if (found === undefined) return ignored("no-field");
  return decodeField(found, signal.decoding);
}

function readUtf8(bytes: Uint8Array): TextResult {
  if (bytes.byteLength > BYTES_MAX) return { reason: "too-large" };
  try {
    return { text: new TextDecoder("utf-8", { fatal: true }).decode(bytes) };
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
    const character = text[at];
    if (isInString) {
      if (character === "\\") at += 1;
      else if (character === '"') isInString = false;
    } else if (character === '"') isInString = true;
    else if (character === "{" || character === "[") {
      depth += 1;
      if (depth > DEPTH_MAX) return true;
    } else if (character === "}" || character === "]") depth -= 1;
  }
  return false;
}

/**
 * @param pointer - JSON pointer; "" is the whole document.
 * @returns The member, or `undefined` if there is none.
 * @source RFC 6901, sections 3 and 4: `~1` is `/`, `~0` is `~`; array indices without leading zero.
 */
export function resolvePointer(document: unknown, pointer: string): unknown {
  if (pointer === "") return document;
  if (!pointer.startsWith("/")) return undefined;
  let at: unknown = document;
  for (const part of pointer.slice(1).split("/")) {
    const name = part.replaceAll("~1", "/").replaceAll("~0", "~");
    if (Array.isArray(at)) {
      const list: readonly unknown[] = at;
      at = /^(?:0|[1-9]\d{0,5})$/u.test(name) ? list[Number(name)] : undefined;
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
  if (/^[+-]?(?:nan|inf(?:inity)?)$/iu.test(text)) return ignored("not-finite");
  if (text.length > NUMBER_CHARACTERS_MAX || !NUMBER.test(text)) return ignored("wrong-type");
  return scaled(Number(text), decoding);
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
