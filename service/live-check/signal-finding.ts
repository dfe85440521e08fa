/** What a person is told of one mapped signal after listening for a while. */
import { hasWildcard, isCovered } from "../../config/topic-filters.ts";
import type { Decoding, FeedSettings } from "../../config/site-settings.ts";
import type { ControlSettings } from "../control/settings.ts";
import { nearestWord } from "../../config/suggestions.ts";
import { isMisread } from "../signal-advice.ts";
import { signalView } from "../state-view.ts";
import type { SignalStateView } from "../state-view.ts";
import { jsonOf, openPayload } from "../telemetry/payload.ts";
import type { SignalView } from "../telemetry/views.ts";
import { nearestNames, shown } from "./nearby.ts";
import { fieldsFor } from "./payload-fields.ts";
import { intervalMs } from "./traffic.ts";
import type { TopicTraffic, Traffic } from "./traffic.ts";
import { doubtOfNumber, otherUnit, ratingDoubt, rawNumber } from "./unit-doubts.ts";

/**
 * - `kept`: only what the broker had kept came.
 * - `unreadable`: messages come, but hold no value that can be read.
 */
export type LiveState =
  "there" | "missing" | "kept" | "unreadable" | "implausible" | "stale" | "frozen";

export interface LiveSignal {
  readonly signal: string;
  readonly state: LiveState;
  /** Nothing has to be done about it before the service starts. */
  readonly isFine: boolean;
  readonly value: SignalStateView["value"];
  readonly unit: string | null;
  readonly ageS: number | null;
  /** Live messages on its topics. */
  readonly messageCount: number;
  /** From one of them to the next; null: not two came. */
  readonly everyS: number | null;
  readonly topics: readonly string[];
  /** What is wrong, and where to look first; null: nothing. */
  readonly advice: string | null;
  /** What was seen that may help, or that is doubtful though it is there. */
  readonly notes: readonly string[];
}

export interface Heard {
  readonly control: ControlSettings;
  readonly traffic: Traffic;
  /** Topics on the broker that nothing reads; null: it did not let us hear them. */
  readonly others: readonly string[] | null;
  /** As whom the broker knows us; null: it asks nobody. */
  readonly username: string | null;
  /** Of those that are read, those to which the broker does not let us listen. */
  readonly refused: ReadonlySet<string>;
}

export function liveSignal(view: SignalView, heard: Heard): LiveSignal {
  const told = signalView(view);
  const state = stateOf(view);
  const feeds = feedsOf(view, state);
  const traffics = feeds.flatMap((feed) => trafficOf(feed, heard.traffic));
  const speaksOnChange = feeds.every(({ staleMs }) => staleMs === null);
  const slowestMs = Math.max(...traffics.map((one) => intervalMs(one) ?? Number.NaN));
  return {
    signal: told.signal,
    state,
    // Its topic and its form are proven; it speaks again when there is news.
    isFine: state === "there" || (state === "kept" && speaksOnChange),
    value: told.value,
    unit: told.unit,
    ageS: told.ageS,
    messageCount: traffics.reduce((sum, { liveCount }) => sum + liveCount, 0),
    everyS: Number.isFinite(slowestMs) ? Math.round(slowestMs / 100) / 10 : null,
    topics: told.sensors.flatMap(({ topics }) => topics),
    advice: told.advice,
    notes: [
      ...new Set([
        ...feeds.flatMap((feed) => notesOf(feed, { view, state, heard })),
        ...sensorNotes(view, state),
        ...ratingNotes(view, state, heard.control),
        ...(speaksOnChange && (state === "missing" || state === "kept") ? [ON_CHANGE] : []),
      ]),
    ],
  };
}

const ON_CHANGE = "its settings let it speak on change alone: switch it once while this listens";

function stateOf(view: SignalView): LiveState {
  if (isMisread(view)) return "unreadable";
  switch (view.quality) {
    case "fresh":
      return "there";
    case "waiting":
    case "unmapped":
      return "missing";
    case "retained":
      return "kept";
    case "stale":
    case "implausible":
    case "frozen":
      return view.quality;
  }
}

/** Of the sensor that is read; of all, while none of them can be. */
function feedsOf({ signal, sensorInUse }: SignalView, state: LiveState): readonly FeedSettings[] {
  const used = signal.sensors[sensorInUse];
  return state === "there" && used !== undefined
    ? used.feeds
    : signal.sensors.flatMap(({ feeds }) => feeds);
}

function trafficOf({ topic }: FeedSettings, traffic: Traffic): readonly TopicTraffic[] {
  const topics = hasWildcard(topic)
    ? traffic.topics().filter((one) => isCovered(one, topic))
    : [topic];
  return topics.flatMap((one) => traffic.of(one) ?? []);
}

function sensorNotes({ sensors, sensorInUse }: SignalView, state: LiveState): readonly string[] {
  if (state !== "there" || sensorInUse === 0) return [];
  const topics = sensors[0]?.topics.join(", ") ?? "";
  return [`a fallback is read: its first sensor (${topics}) cannot be used`];
}

function ratingNotes(
  { signal, value }: SignalView,
  state: LiveState,
  control: ControlSettings,
): readonly string[] {
  if (state !== "there" || typeof value !== "number") return [];
  const note = ratingDoubt(signal, value, control);
  return note === null ? [] : [note];
}

interface Case {
  readonly view: SignalView;
  readonly state: LiveState;
  readonly heard: Heard;
}

function notesOf(feed: FeedSettings, { view, state, heard }: Case): readonly string[] {
  if (heard.refused.has(feed.topic)) {
    return [`the broker refuses to let us listen to ${feed.topic}: see its access rules`];
  }
  const [latest] = trafficOf(feed, heard.traffic).toSorted((one, other) =>
    other.lastMs === one.lastMs ? 0 : other.lastMs - one.lastMs,
  );
  if (latest === undefined) return nearbyNotes(feed, heard);
  switch (state) {
    case "there":
      return [...paceNotes(feed, latest), ...numberNotes(feed, { view, latest }, doubtOfNumber)];
    case "implausible":
      return numberNotes(feed, { view, latest }, otherUnit);
    case "unreadable":
      return payloadNotes(feed, latest);
    case "missing":
    case "kept":
    case "stale":
    case "frozen":
      return [];
  }
}

function nearbyNotes({ topic }: FeedSettings, heard: Heard): readonly string[] {
  const { others, traffic, username } = heard;
  // Brokers agree to a subscription, and keep from it what their rules do not let this user read.
  const rules = username === null ? "" : `; or its access rules keep it from ${username}`;
  if (others === null) return [`${NOT_HEARD}${rules}`];
  // One that another signal is read from is named only where it looks like a slip.
  const slip = nearestWord(topic, traffic.topics());
  const unread = nearestNames(topic, others);
  const near = unread.length > 0 || slip === undefined ? unread : [slip];
  if (near.length === 0) return [`nothing came on ${topic}, nor on a topic like it${rules}`];
  return [`nothing came on ${topic}; heard instead: ${near.map(shown).join(", ")}${rules}`];
}

const NOT_HEARD = "the broker lets us hear no other topics, so that none like it can be named";

function paceNotes({ staleMs }: FeedSettings, traffic: TopicTraffic): readonly string[] {
  const everyMs = intervalMs(traffic);
  if (staleMs === null || everyMs === null || everyMs * STALE_TIMES <= staleMs) return [];
  const [every, stale] = [everyMs, staleMs].map((ms) => `${String(Math.round(ms / 100) / 10)} s`);
  return [
    `it comes every ${every ?? ""} and is too old after ${stale ?? ""}: give it a longer ` +
      "`stale`, or let it be sent more often",
  ];
}

/** One message that is lost or late must not stop its loads. Ours, no source */
const STALE_TIMES = 2;

type Judge = typeof otherUnit;

function numberNotes(
  feed: FeedSettings,
  { view, latest }: { readonly view: SignalView; readonly latest: TopicTraffic },
  judge: Judge,
): readonly string[] {
  const raw = rawNumber(feed, latest.payload);
  const note = raw === null ? null : judge(view.signal.key, feed, raw);
  return note === null ? [] : [note];
}

/** What the last message holds in place of what was looked for. */
function payloadNotes(feed: FeedSettings, { payload }: TopicTraffic): readonly string[] {
  const opened = openPayload(payload);
  const result = jsonOf(opened);
  const text = opened.text !== null && "text" in opened.text ? opened.text.text : null;
  const isPlain = "reason" in result || typeof result.json !== "object";
  if (isPlain) {
    if (text === null) return [];
    const heard = `it said: ${shown(text)}`;
    if (feed.field !== null) return [`${heard}; then its settings need no \`field\``];
    return [`${heard}${wordsOf(feed.decoding)}`];
  }
  const fields = fieldsFor(result, feed.decoding);
  if (fields.length === 0) return [`it said: ${shown(text ?? "")}`];
  const near = nearestNames(
    feed.field ?? "",
    fields.map(({ pointer }) => pointer),
  );
  const first = fields.filter(({ pointer }) => near.includes(pointer));
  const named = [...first, ...fields.filter((one) => !first.includes(one))].slice(0, FIELDS_NAMED);
  const list = named.map(({ pointer, value }) => `${shown(pointer)} (${shown(String(value))})`);
  const more = fields.length > named.length ? " and more" : "";
  return [`its payload has ${list.join(", ")}${more}${wordsOf(feed.decoding)}`];
}

const FIELDS_NAMED = 6;

function wordsOf(decoding: Decoding): string {
  if (!("table" in decoding)) return "";
  const words = Object.keys(decoding.table);
  return `; the settings know ${words.slice(0, FIELDS_NAMED).join(", ")}`;
}
