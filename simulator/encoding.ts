/**
 * From true values to the messages that a shed would publish: the inverse of a site's signal
 * mapping, so that any settings file can be met by a simulated shed that speaks its dialect.
 */
import type { Decoding, SignalSettings } from "../config/site-settings.ts";
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

interface LeafNode {
  readonly kind: "leaf";
  readonly signal: SignalSettings;
}

interface BranchNode {
  readonly kind: "branch";
  readonly members: Map<string, JsonNode>;
}

type JsonNode = LeafNode | BranchNode;

/** What one topic carries: one value as it stands, or a JSON document. */
type TopicPlan =
  | { readonly topic: string; readonly plain: SignalSettings }
  | { readonly topic: string; readonly document: JsonNode };

export interface Encoder {
  /** One message for each topic of which at least one value is known, in the settings' order. */
  encode(read: ReadTruth): readonly EncodedMessage[];
}

/** @throws UserError if two signals of one topic cannot stand in the same message. */
export function createEncoder(signals: readonly SignalSettings[]): Encoder {
  const byTopic = new Map<string, SignalSettings[]>();
  for (const signal of signals) {
    const already = byTopic.get(signal.topic);
    if (already === undefined) byTopic.set(signal.topic, [signal]);
    else already.push(signal);
  }
  const plans = [...byTopic].map(([topic, carried]) => planTopic(topic, carried));
  return {
    encode(read) {
      const messages: EncodedMessage[] = [];
      for (const plan of plans) {
        const payload =
          "plain" in plan ? plainText(plan.plain, read) : documentText(plan.document, read);
        if (payload !== null) messages.push({ topic: plan.topic, payload });
      }
      return messages;
    },
  };
}

function planTopic(topic: string, carried: readonly SignalSettings[]): TopicPlan {
  const [first] = carried;
  invariant(first !== undefined, "a topic is planned for at least one signal");
  if (first.field === null && carried.length === 1) return { topic, plain: first };
  let document: JsonNode | null = null;
  for (const signal of carried) {
    if (signal.field === null) throw clash(signal, "a plain value and JSON fields on one topic");
    document = insert(document, pointerTokens(signal.field), signal);
  }
  invariant(document !== null, "a document has at least one field");
  return { topic, document };
}

/** @source RFC 6901, sections 3 and 4: `~1` is `/`, `~0` is `~`. */
function pointerTokens(pointer: string): readonly string[] {
  const tokens = pointer.split("/").slice(1);
  return tokens.map((token) => token.replaceAll("~1", "/").replaceAll("~0", "~"));
}

function insert(
  node: JsonNode | null,
  tokens: readonly string[],
  signal: SignalSettings,
): JsonNode {
  const [token, ...rest] = tokens;
  if (token === undefined) {
    if (node !== null) throw clash(signal, "one field for two values");
    return { kind: "leaf", signal };
  }
  if (node?.kind === "leaf") throw clash(signal, "a field inside another value");
  const members = node?.members ?? new Map<string, JsonNode>();
  members.set(token, insert(members.get(token) ?? null, rest, signal));
  return { kind: "branch", members };
}

function clash(signal: SignalSettings, found: string): UserError {
  return new UserError([
    {
      code: "signals-clash",
      where: signal.topic,
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

function plainText(signal: SignalSettings, read: ReadTruth): string | null {
  const value = read(signal);
  return value === null ? null : rawText(value, signal.decoding);
}

/** JSON text of the document; null if nothing in it is known. */
function documentText(node: JsonNode, read: ReadTruth): string | null {
  if (node.kind === "leaf") {
    const text = plainText(node.signal, read);
    return text === null ? null : fieldText(text);
  }
  const members = [...node.members].map(
    ([name, member]) => [name, documentText(member, read)] as const,
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
