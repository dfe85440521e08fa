/** How an array was seen to stand, out of what the run before saved; else the settings' own. */
import { fieldOf, numberOf } from "./saved-fields.ts";
import { FIRST_VARIANCE } from "./seen-plane.ts";
import type { PlaneDoubt, SeenPlane } from "./seen-plane.ts";

/** No array stands further from its settings, or gives so much less or more. [1] Ours, no source */
const MOVED_MAX = 3;
/** What rounding may add. */
const NEARLY = 1 + 1e-9;

export function planeAgain(blank: SeenPlane, saved: unknown): SeenPlane {
  const normal = fieldOf(saved, "normal");
  const east = numberOf(normal, "east");
  const north = numberOf(normal, "north");
  const up = numberOf(normal, "up");
  const doubt = doubtAgain(fieldOf(saved, "doubt"));
  if (east === null || north === null || up === null || doubt === null) return blank;
  return Math.hypot(east, north, up) > MOVED_MAX ? blank : { normal: { east, north, up }, doubt };
}

/** null: no symmetric matrix of doubts can be that. */
function doubtAgain(saved: unknown): PlaneDoubt | null {
  const eastEast = numberOf(saved, "eastEast");
  const northNorth = numberOf(saved, "northNorth");
  const upUp = numberOf(saved, "upUp");
  const eastNorth = numberOf(saved, "eastNorth");
  const eastUp = numberOf(saved, "eastUp");
  const northUp = numberOf(saved, "northUp");
  if (!isVariance(eastEast) || !isVariance(northNorth) || !isVariance(upUp)) return null;
  if (!isCovariance(eastNorth, eastEast, northNorth)) return null;
  if (!isCovariance(eastUp, eastEast, upUp)) return null;
  if (!isCovariance(northUp, northNorth, upUp)) return null;
  return { eastEast, eastNorth, eastUp, northNorth, northUp, upUp };
}

function isVariance(value: number | null): value is number {
  return value !== null && value > 0 && value <= NEARLY * FIRST_VARIANCE;
}

function isCovariance(value: number | null, one: number, other: number): value is number {
  return value !== null && value * value <= NEARLY * one * other;
}
