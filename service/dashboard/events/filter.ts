/** Which events are shown. */
import type { EventView } from "../../event-view.ts";

export interface EventFilter {
  /** Id of a load, panel or site; empty: all. */
  readonly owner: string;
  /** `warning`: those and alarms. */
  readonly least: EventView["severity"];
  readonly text: string;
}

export const EVERYTHING: EventFilter = { owner: "", least: "info", text: "" };

const GRAVITY = { info: 0, warning: 1, alarm: 2 } as const;

export function isShown(event: EventView, { owner, least, text }: EventFilter): boolean {
  if (owner !== "" && event.id !== owner) return false;
  if (GRAVITY[event.severity] < GRAVITY[least]) return false;
  const words = text
    .toLowerCase()
    .split(/\s+/u)
    .filter((word) => word !== "");
  const said = `${event.label} ${event.change} ${event.code} ${event.sentence ?? ""}`.toLowerCase();
  return words.every((word) => said.includes(word));
}
