/**
 * Who moved last among battery, sources and inverter. A sensor that stands still while its
 * neighbours move is not to be believed; one that stands still with all of them may be right.
 */
import type { SignalKey } from "../../config/signals.ts";
import { SIGNALS } from "../../config/signals.ts";

export interface Moves {
  /** The value of that signal changed. */
  readonly note: (signalIndex: number, atMs: number) => void;
  /** Another signal's value changed later than that. */
  readonly hasOtherMovedSince: (signalIndex: number, sinceMs: number) => boolean;
}

const NEIGHBOURS: ReadonlySet<string> = new Set([
  "battery",
  "array",
  "hydro",
  "wind",
  "inverter",
  "leg",
]);

export function isNeighbour(key: SignalKey): boolean {
  const [kind = ""] = key.split(".");
  return SIGNALS[key].type === "number" && NEIGHBOURS.has(kind);
}

/** Two movers are enough: whoever asks, the later of the others is one of them. */
export function createMoves(): Moves {
  let lastIndex = -1;
  let lastMs = Number.NEGATIVE_INFINITY;
  let otherMs = Number.NEGATIVE_INFINITY;
  return {
    note(signalIndex, atMs) {
      if (signalIndex !== lastIndex) otherMs = lastMs;
      lastIndex = signalIndex;
      lastMs = atMs;
    },
    hasOtherMovedSince: (signalIndex, sinceMs) =>
      (signalIndex === lastIndex ? otherMs : lastMs) > sinceMs,
  };
}
