/**
 * Messages as broken devices, other programs and ill-wishers send them, each with what becomes of
 * it. The mappings are those of one signal each, on topics of their own.
 */
import type { SignalSettings } from "../../config/site-settings.ts";
import type { IgnoredReason } from "../../service/telemetry/ignored.ts";
import type { SignalValue } from "../../service/telemetry/payload.ts";
import { signalOfOne } from "../support/signal.ts";

export const PLAIN_TOPIC = "odd/plain/w";
const FIELD_TOPIC = "odd/field";
const WORD_TOPIC = "odd/word";
const STAMP_TOPIC = "odd/stamp";
const WILD_TOPIC = "odd/wild/a/c";

/** None of them is critical to the core: what they say must not matter to anything else. */
export const ODD_SIGNALS: readonly SignalSettings[] = [
  signalOfOne({ ...numberOf("array.{id}.power", "roof"), topic: PLAIN_TOPIC }),
  signalOfOne({ ...numberOf("hydro.{id}.power", "mill"), topic: FIELD_TOPIC, field: "/v" }),
  signalOfOne({
    key: "generator.running",
    ownerId: null,
    topic: WORD_TOPIC,
    decoding: { kind: "booleanTable", table: { on: true, off: false } },
  }),
  signalOfOne({
    ...numberOf("wind.{id}.power", "ridge"),
    topic: STAMP_TOPIC,
    field: "/v",
    stamp: { field: "/t", form: "milliseconds", aheadMaxMs: 5_000 },
  }),
  signalOfOne({ ...numberOf("dcLoads.power", null), topic: "odd/wild/+/c", field: "/v" }),
];

function numberOf(key: SignalSettings["key"], ownerId: string | null) {
  return { key, ownerId, min: -10_000, max: 10_000 } as const;
}

export interface PayloadRow {
  readonly name: string;
  readonly topic: string;
  readonly bytes: Uint8Array;
  /** The reason why it is ignored, or the value that it gives. */
  readonly becomes: { readonly ignored: IgnoredReason } | { readonly value: SignalValue };
  readonly isRetained: boolean;
  readonly qos: 0 | 1 | 2;
  /** Sent twice, as a broker does that has missed the acknowledgement. */
  readonly isTwice: boolean;
}

type Said = string | Uint8Array;
type Extra = Partial<Pick<PayloadRow, "isRetained" | "qos" | "isTwice">>;

function row(
  [name, topic]: readonly [string, string],
  said: Said,
  becomes: PayloadRow["becomes"],
  extra: Extra = {},
): PayloadRow {
  const bytes = typeof said === "string" ? new TextEncoder().encode(said) : said;
  return { name, topic, bytes, becomes, isRetained: false, qos: 1, isTwice: false, ...extra };
}

const ignored = (reason: IgnoredReason) => ({ ignored: reason });
const plain = (name: string, said: Said, becomes: PayloadRow["becomes"], extra?: Extra) =>
  row([`plain: ${name}`, PLAIN_TOPIC], said, becomes, extra);
const field = (name: string, said: Said, becomes: PayloadRow["becomes"], extra?: Extra) =>
  row([`field: ${name}`, FIELD_TOPIC], said, becomes, extra);
const word = (said: Said, becomes: PayloadRow["becomes"]) =>
  row([`word: ${JSON.stringify(said)}`, WORD_TOPIC], said, becomes);

const PLAIN_ROWS: readonly PayloadRow[] = [
  plain("empty", "", ignored("wrong-type")),
  plain("spaces", "   ", ignored("wrong-type")),
  plain("a byte-order mark before a number", "\uFEFF52.4", { value: 52.4 }),
  plain("a byte-order mark alone", "\uFEFF", ignored("wrong-type")),
  plain("NaN", "NaN", ignored("not-finite")),
  plain("-nan", "-nan", ignored("not-finite")),
  plain("Infinity", "Infinity", ignored("not-finite")),
  plain("1e400", "1e400", ignored("not-finite")),
  plain("1e-400", "1e-400", { value: 0 }),
  plain("-0", "-0", { value: 0 }),
  plain("hexadecimal", "0x1F", ignored("wrong-type")),
  plain("binary", "0b11", ignored("wrong-type")),
  plain("a decimal comma", "1,5", ignored("wrong-type")),
  plain("thousands", "1,000.5", ignored("wrong-type")),
  plain("underscores", "1_000", ignored("wrong-type")),
  plain("a number with its unit", "52.4 V", ignored("wrong-type")),
  plain("a unit at the number", "52.4W", ignored("wrong-type")),
  plain("true", "true", ignored("wrong-type")),
  plain("null", "null", ignored("wrong-type")),
  plain("quotes", '"52.4"', ignored("wrong-type")),
  plain("an array", "[52.4]", ignored("wrong-type")),
  plain("an object", '{"v":52.4}', ignored("wrong-type")),
  plain("Arabic-Indic digits", "٥٢", ignored("wrong-type")),
  plain("full-width digits", "５２", ignored("wrong-type")),
  plain("a typographic minus", "−52", ignored("wrong-type")),
  plain("two numbers", "52.4 52.5", ignored("wrong-type")),
  plain("two lines", "52.4\n52.5", ignored("wrong-type")),
  plain("NUL after the number", "52.4\0", ignored("wrong-type")),
  plain("NUL bytes alone", "\0\0\0", ignored("wrong-type")),
  plain("50 digits", "1".repeat(50), ignored("wrong-type")),
  plain("no UTF-8", Uint8Array.of(0x35, 0xff), ignored("not-utf8")),
  plain("an overlong NUL", Uint8Array.of(0xc0, 0x80), ignored("not-utf8")),
  plain("a surrogate in bytes", Uint8Array.of(0xed, 0xa0, 0x80), ignored("not-utf8")),
  plain("UTF-16", Uint8Array.of(0x35, 0, 0x32, 0), ignored("wrong-type")),
  plain("one megabyte", new Uint8Array(1_048_576).fill(0x35), ignored("too-large")),
  plain("beyond the range", "10001", ignored("out-of-range")),
  plain("the range's end", "-10000", { value: -10_000 }),
  plain("QoS 0", "1", { value: 1 }, { qos: 0 }),
  plain("QoS 2", "2", { value: 2 }, { qos: 2 }),
  plain("twice", "3", { value: 3 }, { isTwice: true }),
  plain("retained by its publisher, and live", "4", { value: 4 }, { isRetained: true }),
];

/** 98 is what a lenient reader would find: as a state of charge in % it would start loads. */
const FIELD_ROWS: readonly PayloadRow[] = [
  field("empty", "", ignored("not-json")),
  field("a byte-order mark before JSON", '\uFEFF{"v":1}', { value: 1 }),
  field("trailing garbage", '{"v":98}}', ignored("not-json")),
  field("several documents", '{"v":98}{"v":99}', ignored("not-json")),
  field("lines of documents", '{"v":98}\n{"v":99}\n', ignored("not-json")),
  field("single quotes", "{'v':98}", ignored("not-json")),
  field("a comment", '{"v":98/* V */}', ignored("not-json")),
  field("a comma at the end", '{"v":98,}', ignored("not-json")),
  field("NaN", '{"v":NaN}', ignored("not-json")),
  field("Infinity", '{"v":Infinity}', ignored("not-json")),
  field("1e400", '{"v":1e400}', ignored("not-finite")),
  field("-0", '{"v":-0}', { value: 0 }),
  field("hexadecimal", '{"v":0x62}', ignored("not-json")),
  field("a leading zero", '{"v":098}', ignored("not-json")),
  field("a decimal comma", '{"v":98,5}', ignored("not-json")),
  field("text", '{"v":"98"}', ignored("wrong-type")),
  field("text with a unit", '{"v":"98 %"}', ignored("wrong-type")),
  field("true", '{"v":true}', ignored("wrong-type")),
  field("null", '{"v":null}', ignored("wrong-type")),
  field("an array", '{"v":[98]}', ignored("wrong-type")),
  field("a document that is an array", '[{"v":98}]', ignored("no-field")),
  field("a document that is a number", "98", ignored("no-field")),
  field("a document that is null", "null", ignored("no-field")),
  field("another case of the name", '{"V":98}', ignored("no-field")),
  field("the name twice: the last counts", '{"v":1,"v":2}', { value: 2 }),
  field("the name twice, the last no number", '{"v":98,"v":"x"}', ignored("wrong-type")),
  field("__proto__", '{"__proto__":{"v":98}}', ignored("no-field")),
  field("constructor", '{"constructor":{"prototype":{"v":98}}}', ignored("no-field")),
  field("a lone surrogate beside it", '{"x":"\\ud800","v":1}', { value: 1 }),
  field("a lone surrogate in its name", '{"v\\udfff":98}', ignored("no-field")),
  field("NUL in its name", '{"v\\u0000":98}', ignored("no-field")),
  field("NUL in the document", '{"v":98\0}', ignored("not-json")),
  field("nested 1000 deep", `${"[".repeat(1_000)}${"]".repeat(1_000)}`, ignored("too-deep")),
  field("never closed", '{"v":'.repeat(3_000), ignored("too-deep")),
  field("one megabyte", `{"v":98,"x":"${"x".repeat(1_048_576)}"}`, ignored("too-large")),
  field("beyond the range", '{"v":-10000.1}', ignored("out-of-range")),
];

const WORD_ROWS: readonly PayloadRow[] = [
  word("ON", ignored("unknown-word")),
  word("toString", ignored("unknown-word")),
  word("__proto__", ignored("unknown-word")),
  word("on\0", ignored("unknown-word")),
  word("", ignored("unknown-word")),
  word('"off"', ignored("unknown-word")),
  word(" off\n", { value: false }),
];

const TOPIC_ROWS: readonly PayloadRow[] = [
  ...["odd", "odd/plain", "odd/plain/w/", "/odd/plain/w", "Odd/plain/w", "odd/wild/a/b/c"].map(
    (topic) => row([`topic ${topic}`, topic], "52.4", ignored("unmapped-topic")),
  ),
  row(["wildcard: the first", WILD_TOPIC], '{"v":7}', { value: 7 }),
  row(["wildcard: another", "odd/wild/b/c"], '{"v":8}', ignored("other-topic")),
  row(["wildcard: no level", "odd/wild//c"], '{"v":8}', ignored("other-topic")),
  row(["wildcard: another, unreadable", "odd/wild/d/c"], "{", ignored("other-topic")),
  row(["wildcard: the first again", WILD_TOPIC], '{"v":9}', { value: 9 }),
];

/** @param wallMs - Of the daemon. */
function stampRows(wallMs: number): readonly PayloadRow[] {
  const stamped = (name: string, t: unknown, becomes: PayloadRow["becomes"]): PayloadRow =>
    row([`stamp: ${name}`, STAMP_TOPIC], JSON.stringify({ v: 5, t }), becomes);
  return [
    stamped("in an hour", wallMs + 3_600_000, ignored("stamp-ahead")),
    stamped("in microseconds", wallMs * 1_000, ignored("stamp-ahead")),
    stamped("now", wallMs, { value: 5 }),
    stamped("in seconds where milliseconds belong", wallMs / 1_000, ignored("out-of-order")),
    stamped("a second before the one before", wallMs - 1_000, ignored("out-of-order")),
    stamped("of 1970", 0, ignored("out-of-order")),
    stamped("as text", String(wallMs), ignored("bad-stamp")),
    stamped("none", undefined, ignored("bad-stamp")),
    stamped("null", null, ignored("bad-stamp")),
    stamped("beyond the calendar", 1e300, ignored("bad-stamp")),
    stamped("the same once more", wallMs, { value: 5 }),
  ];
}

/** In the order in which they have to be said. */
export function payloadRows(wallMs: number): readonly PayloadRow[] {
  return [...PLAIN_ROWS, ...FIELD_ROWS, ...WORD_ROWS, ...TOPIC_ROWS, ...stampRows(wallMs)];
}

/** How often each reason is met when every row is said, for the counters to add up to. */
export function expectedCounts(rows: readonly PayloadRow[]): Record<string, number> {
  const counts: Record<string, number> = {};
  for (const { becomes, isTwice } of rows) {
    if (!("ignored" in becomes)) continue;
    counts[becomes.ignored] = (counts[becomes.ignored] ?? 0) + (isTwice ? 2 : 1);
  }
  return counts;
}

export function messageCount(rows: readonly PayloadRow[]): number {
  return rows.reduce((sum, { isTwice }) => sum + (isTwice ? 2 : 1), 0);
}
