/**
 * From true values to the messages that a shed would publish: the inverse of a site's signal
 * mapping, so that any settings file can be met by a simulated shed that speaks its dialect.
 */
import type { Decoding, FeedSettings } from "../config/site-settings.ts";
import type { SignalSettings, StampSettings } from "../config/site-settings.ts";
import type { ChargeStage } from "../service/control/observation.ts";
import { invariant } from "../service/control/invariant.ts";
import { UserError } from "../service/errors.ts";

export type SignalValue = number | boolean | ChargeStage;

/** Looks a true value up; `null`: the shed cannot tell it now, and the signal is left out. */
export type ReadTruth = (signal: SignalSettings) => SignalValue | null;

export interface EncodedMessage {
  readonly topic: string;
  readonly payload: string;
}

/** Numbers are published with this many significant digits, as a fair meter would. */
const SIGNIFICANT_DIGITS = 6;

/** What the shed knows when it speaks. */
interface Moment {
  readonly read: ReadTruth;
  /** Milliseconds since 1970-01-01T00:00:00Z. */
  readonly wallMs: number;
}

/** One value of a signal, or the time at which it was taken. */
interface LeafNode {
  readonly kind: "leaf";
  /** Raw text; null: not known now. A time alone makes no message. */
  readonly write: (moment: Moment) => string | null;
  /** Several values of one message share its time; null: a value. */
  readonly stampForm: StampSettings["form"] | null;
}

interface BranchNode {
  readonly kind: "branch";
  readonly members: Map<string, JsonNode>;
}

type JsonNode = LeafNode | BranchNode;

/** One place where a value is expected. */
interface Place {
  readonly signal: SignalSettings;
  readonly feed: FeedSettings;
  readonly topic: string;
  readonly write: LeafNode["write"];
}

/** What one topic carries: one value as it stands, or a JSON document. */
type TopicPlan =
  | { readonly topic: string; readonly plain: LeafNode["write"] }
  | { readonly topic: string; readonly document: JsonNode };

export interface Encoder {
  /** One message for each topic of which at least one value is known, in the settings' order. */
  encode(read: ReadTruth, wallMs: number): readonly EncodedMessage[];
}

/** @throws UserError if two signals of one topic cannot stand in the same message. */
export function createEncoder(signals: readonly SignalSettings[]): Encoder {
  const byTopic = new Map<string, Place[]>();
  for (const place of signals.flatMap(placesOf)) {
    const already = byTopic.get(place.topic);
    if (already === undefined) byTopic.set(place.topic, [place]);
    else already.push(place);
  }
  const plans = [...byTopic].map(([topic, carried]) => planTopic(topic, carried));
  return {
    encode(read, wallMs) {
      const moment = { read, wallMs };
      const messages: EncodedMessage[] = [];
      for (const plan of plans) {
        const payload = "plain" in plan ? plan.plain(moment) : documentText(plan.document, moment);
        if (payload !== null) messages.push({ topic: plan.topic, payload });
      }
      return messages;
    },
  };
}

/** Every sensor of a signal, also those in reserve, tells the same truth. */
function placesOf(signal: SignalSettings): readonly Place[] {
  return signal.sensors.flatMap(({ combine, feeds }) =>
    feeds.map((feed) => ({
      signal,
      feed,
      topic: feed.topic.replaceAll(/[+#]/gu, WILD_LEVEL),
      write: ({ read }) => {
        const value = read(signal);
        if (value === null) return null;
        const isShare = combine === "sum" && typeof value === "number";
        return rawText(isShare ? value / feeds.length : value, feed.decoding);
      },
    })),
  );
}

/** What the shed has where the settings leave a level open. */
const WILD_LEVEL = "1";

function planTopic(topic: string, carried: readonly Place[]): TopicPlan {
  const [first] = carried;
  invariant(first !== undefined, "a topic is planned for at least one signal");
  if (first.feed.field === null && carried.length === 1) return { topic, plain: first.write };
  let document: JsonNode | null = null;
  for (const place of carried) {
    const { field, stamp } = place.feed;
    if (field === null) throw clash(place, "a plain value and JSON fields on one topic");
    const leaf = { kind: "leaf", write: place.write, stampForm: null } as const;
    document = insert(document, pointerTokens(field), { leaf, place });
    if (stamp === null) continue;
    const time = { kind: "leaf", write: timeOf(stamp), stampForm: stamp.form } as const;
    document = insert(document, pointerTokens(stamp.field), { leaf: time, place });
  }
  invariant(document !== null, "a document has at least one field");
  return { topic, document };
}

function timeOf({ form }: StampSettings): LeafNode["write"] {
  switch (form) {
    case "rfc3339":
      return ({ wallMs }) => new Date(wallMs).toISOString();
    case "seconds":
      return ({ wallMs }) => String(wallMs / 1000);
    case "milliseconds":
      return ({ wallMs }) => String(wallMs);
  }
}

/** @source RFC 6901, sections 3 and 4: `~1` is `/`, `~0` is `~`. */
function pointerTokens(pointer: string): readonly string[] {
  const tokens = pointer.split("/").slice(1);
  return tokens.map((token) => token.replaceAll("~1", "/").replaceAll("~0", "~"));
}

function insert(
  node: JsonNode | null,
  tokens: readonly string[],
  entry: { readonly leaf: LeafNode; readonly place: Place },
): JsonNode {
  const [token, ...rest] = tokens;
  if (token === undefined) {
    if (node === null) return entry.leaf;
    const isSameTime = node.kind === "leaf" && node.stampForm !== null;
    if (isSameTime && node.stampForm === entry.leaf.stampForm) return node;
    throw clash(entry.place, "one field for two values");
  }
  if (node?.kind === "leaf") throw clash(entry.place, "a field inside another value");
  const members = node?.members ?? new Map<string, JsonNode>();
  members.set(token, insert(members.get(token) ?? null, rest, entry));
  return { kind: "branch", members };
}

function clash({ topic, signal }: Place, found: string): UserError {
  return new UserError([
    {
      code: "signals-clash",
      where: topic,
      key: signalName(signal),
      found,
      expected: "signals that can stand in one message",
      suggestion: "give this signal a topic or a field of its own",
    },
  ]);
}

/** The key as a settings file has it: `array.roof.power`. */
export function signalName({ key, ownerId }: SignalSettings): string {
  return ownerId === null ? key : key.replace("{id}", ownerId);
}

/** JSON text of the document; null if no value in it is known. */
function documentText(node: JsonNode, moment: Moment): string | null {
  return isKnown(node, moment) ? nodeText(node, moment) : null;
}

function isKnown(node: JsonNode, moment: Moment): boolean {
  if (node.kind === "leaf") return node.stampForm === null && node.write(moment) !== null;
  return [...node.members.values()].some((member) => isKnown(member, moment));
}

function nodeText(node: JsonNode, moment: Moment): string | null {
  if (node.kind === "leaf") {
    const text = node.write(moment);
    return text === null ? null : fieldText(text);
  }
  const members = [...node.members].map(
    ([name, member]) => [name, nodeText(member, moment)] as const,
  );
  if (members.every(([, text]) => text === null)) return null;
  const length = listLength([...node.members.keys()]);
  if (length !== null) {
    const elements = Array<string>(length).fill("null");
    for (const [name, text] of members) elements[Number(name)] = text ?? "null";
    return `[${elements.join(",")}]`;
  }
  const written = members.filter(([, text]) => text !== null);
  return `{${written.map(([name, text]) => `${JSON.stringify(name)}:${text ?? ""}`).join(",")}}`;
}

/** A level whose names are all small numbers is a JSON array of this length; else null. */
function listLength(names: readonly string[]): number | null {
  const isList = names.every((name) => /^(?:0|[1-9]\d?)$/u.test(name));
  return isList ? Math.max(...names.map(Number)) + 1 : null;
}

/** Words of a table that are JSON numbers or booleans are sent as such, as devices do. */
function fieldText(text: string): string {
  const isLiteral = text === "true" || text === "false";
  const isNumber = text !== "" && Number.isFinite(Number(text)) && String(Number(text)) === text;
  return isLiteral || isNumber ? text : JSON.stringify(text);
}

/** The text that decodes to `value`; null if the mapping has no word for it. */
function rawText(value: SignalValue, decoding: Decoding): string | null {
  if ("table" in decoding) return wordFor(value, decoding.table);
  if (typeof value !== "number") return null;
  if (decoding.kind === "aboveZero") return String(value);
  const raw = (value - decoding.offset) / decoding.scale;
  return Number.isFinite(raw) ? String(Number(raw.toPrecision(SIGNIFICANT_DIGITS)) + 0) : null;
}

function wordFor(value: SignalValue, table: Readonly<Record<string, SignalValue>>): string | null {
  const found = Object.entries(table).find(([, meaning]) => meaning === value);
  return found === undefined ? null : found[0];
}
