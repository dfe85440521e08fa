/**
 * The state as it comes over `/api/stream`, and how old it is.
 *
 * The browser itself comes back after a cut, with the id of the last event. It gives up for good
 * when the service answers with an error, and does not notice a connection that is dead: for those
 * the stream is opened anew, ever more rarely.
 */
import type { EventView } from "../event-view.ts";
import type { StateView } from "../state-view.ts";
import { after, every, monotonicMs } from "./browser-clock.ts";

export interface Live {
  readonly state: StateView | null;
  /** Newest first, since the page was opened. */
  readonly events: readonly EventView[];
  /** Since the service was last heard; null: never. [s] */
  readonly silentS: number | null;
  readonly isStale: boolean;
}

export const NOTHING_YET: Live = { state: null, events: [], silentS: null, isStale: false };

/** The service tells its state at least every 10 s. */
export const STALE_AFTER_S = 15;
const DEAD_AFTER_S = 30;
const WAIT_MIN_MS = 1_000;
const WAIT_MAX_MS = 30_000;
const LOOK_EVERY_MS = 1_000;
const EVENTS_MAX = 500;

interface Line {
  readonly tell: (live: Live) => void;
  live: Live;
  heardAtMs: number;
  waitMs: number;
  source: EventSource | null;
  cancelReopen: () => void;
}

/** @returns Hangs up. */
export function listen(tell: (live: Live) => void): () => void {
  const line: Line = {
    tell,
    live: NOTHING_YET,
    heardAtMs: monotonicMs(),
    waitMs: WAIT_MIN_MS,
    source: null,
    cancelReopen: () => undefined,
  };
  open(line);
  const stopLooking = every(LOOK_EVERY_MS, () => look(line));
  // A phone that was asleep has heard nothing; it should not wait for the next attempt.
  const onReturn = (): void => {
    if (document.visibilityState === "visible" && silentS(line) > STALE_AFTER_S) reopen(line, 0);
  };
  document.addEventListener("visibilitychange", onReturn);
  window.addEventListener("online", onReturn);
  return () => {
    stopLooking();
    document.removeEventListener("visibilitychange", onReturn);
    window.removeEventListener("online", onReturn);
    line.cancelReopen();
    line.source?.close();
  };
}

function open(line: Line): void {
  const source = new EventSource("/api/stream");
  line.source = source;
  source.addEventListener("state", ({ data }: MessageEvent<string>) => {
    line.waitMs = WAIT_MIN_MS;
    // eslint-disable-next-line @typescript-eslint/no-unsafe-assignment -- the API is tested for it
    const state: StateView = JSON.parse(data);
    heard(line, { state });
  });
  source.addEventListener("event", ({ data }: MessageEvent<string>) => {
    // eslint-disable-next-line @typescript-eslint/no-unsafe-assignment -- the API is tested for it
    const event: EventView = JSON.parse(data);
    heard(line, { events: [event, ...line.live.events].slice(0, EVENTS_MAX) });
  });
  source.addEventListener("error", () => {
    if (source.readyState === EventSource.CLOSED) reopen(line, line.waitMs);
  });
}

function reopen(line: Line, waitMs: number): void {
  line.source?.close();
  line.source = null;
  line.cancelReopen();
  line.waitMs = Math.min(2 * line.waitMs, WAIT_MAX_MS);
  line.cancelReopen = after(waitMs, () => open(line));
}

function heard(line: Line, news: Partial<Live>): void {
  line.heardAtMs = monotonicMs();
  line.live = { ...line.live, ...news, silentS: 0, isStale: false };
  line.tell(line.live);
}

function look(line: Line): void {
  const silent = silentS(line);
  const isStale = silent >= STALE_AFTER_S;
  if (isStale || line.live.isStale) {
    line.live = { ...line.live, silentS: line.live.state === null ? null : silent, isStale };
    line.tell(line.live);
  }
  const isDead = silent >= DEAD_AFTER_S && line.source?.readyState === EventSource.OPEN;
  if (isDead) reopen(line, line.waitMs);
}

function silentS(line: Line): number {
  return Math.floor((monotonicMs() - line.heardAtMs) / 1000);
}
