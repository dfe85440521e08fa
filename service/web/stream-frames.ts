/**
 * The text of the stream's messages, and the ids by which a reader comes back.
 *
 * @source WHATWG HTML Living Standard, section 9.2.5 "Parsing an event stream": fields `event`,
 * `id`, `data` and `retry`, a blank line after each message, a colon in front of a comment.
 */
import type { Chronicle, NumberedEvent } from "../chronicle.ts";
import type { StateView } from "../state-view.ts";

/** A reader waits so long before it comes back. [ms] */
const RETRY_MS = 2_000;

export const OPENING = `retry: ${String(RETRY_MS)}\n\n`;
export const HEARTBEAT = ": still here\n\n";

/** What happened cannot all be told any more; the whole state follows. */
export interface Gap {
  /** `another-run`: the service was started anew. `too-old`: no longer kept. */
  readonly reason: "another-run" | "too-old";
}

/** What a reader gets who comes back with an id. */
export type Resumption =
  | { readonly kind: "events"; readonly from: number; readonly events: readonly NumberedEvent[] }
  | { readonly kind: "gap"; readonly gap: Gap };

/** @param number - Of the last event that the reader has, with this frame. */
export function stateFrame(runId: string, number: number, state: StateView): string {
  return frame("state", idOf(runId, number), state);
}

export function eventFrame(runId: string, { number, event }: NumberedEvent): string {
  return frame("event", idOf(runId, number), event);
}

export function gapFrame(runId: string, number: number, gap: Gap): string {
  return frame("gap", idOf(runId, number), gap);
}

export function resume(chronicle: Chronicle, lastId: string): Resumption {
  const [, run, digits] = /^([0-9a-f]+)-(\d{1,15})$/u.exec(lastId) ?? [];
  if (run !== chronicle.runId) return { kind: "gap", gap: { reason: "another-run" } };
  const from = Number(digits);
  const events = chronicle.eventsAfter(from);
  if (events === null) return { kind: "gap", gap: { reason: "too-old" } };
  return { kind: "events", from, events };
}

function idOf(runId: string, number: number): string {
  return `${runId}-${String(number)}`;
}

/** JSON has no line breaks of its own: one `data` line is enough. */
function frame(event: string, id: string, data: object): string {
  return `event: ${event}\nid: ${id}\ndata: ${JSON.stringify(data)}\n\n`;
}
