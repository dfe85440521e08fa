/** Which events are shown. */
import type { EventView } from "../../event-view.ts";
import type { PastEventView } from "../../past-desk.ts";

export type ListedEvent = Pick<EventView, "at" | "id" | "label" | "sentence"> & {
  readonly change: string;
  readonly code: string;
  readonly severity: EventView["severity"];
};

export interface EventFilter {
  /** Id of a load, panel or site; empty: all. */
  readonly owner: string;
  /** `warning`: those and alarms. */
  readonly least: EventView["severity"];
  readonly text: string;
}

export const EVERYTHING: EventFilter = { owner: "", least: "info", text: "" };

const GRAVITY = { info: 0, warning: 1, alarm: 2 } as const;

/** What came over the stream, and before it what the history kept; both newest first. */
export function together(
  news: readonly EventView[],
  past: readonly PastEventView[],
): readonly ListedEvent[] {
  const keyOf = ({ at, id, code, change }: Omit<ListedEvent, "severity">): string =>
    `${at} ${id} ${code} ${change}`;
  const known = new Set(past.map(keyOf));
  return [
    ...news.filter((event) => !known.has(keyOf(event))),
    ...past.map((event) => ({ ...event, severity: event.severity ?? ("info" as const) })),
  ];
}

export function isShown(event: ListedEvent, { owner, least, text }: EventFilter): boolean {
  if (owner !== "" && event.id !== owner) return false;
  if (GRAVITY[event.severity] < GRAVITY[least]) return false;
  const words = text
    .toLowerCase()
    .split(/\s+/u)
    .filter((word) => word !== "");
  const said = `${event.label} ${event.change} ${event.code} ${event.sentence ?? ""}`.toLowerCase();
  return words.every((word) => said.includes(word));
}
