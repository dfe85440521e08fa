/**
 * How an array at this site differs from the model of a clean one under a clear sky, by where the
 * sun stands: trees, ridges, dirt, a tilt that is not as written, the haze of the region.
 *
 * The problem: a cloud lowers a sample just as a tree does. But a tree is there on every clear day,
 * and no cloud is. So what is followed is a high value: quickly upwards, and slowly downwards, the
 * more slowly the duller the last hours were. Under snow or a week of fog next to nothing is
 * forgotten. What was learned fades by being learned anew; there is no other forgetting.
 */
import type { SunPosition } from "../solar/sun.ts";
import { numberOrNullAt, withNumberOrNull } from "./item-at.ts";
import { ALTITUDE_CELLS, AZIMUTH_CELLS } from "./potential-memory.ts";
import type { ArrayResponse } from "./potential-memory.ts";

/** Shares of the way to a new sample, for one of five minutes. Ours, by trial. */
const GAIN_UP = 0.3;
const GAIN_DOWN = 0.06;
/** Duller hours than this teach nothing downwards; as clear as that, everything. [1] */
const DULL = 0.55;
const CLEAR = 0.85;
/** …and for all positions of the sun together, of which there is a sample at every moment. */
const GENERAL_UP = 0.02;
const GENERAL_DOWN = 0.0005;
/** No array gives more than this against the model, and none that gives less is one. */
const FRACTION_MAX = 3;
const FRACTION_MIN = 0.01;

/** Whether a response that was read from somewhere can be one. */
export function isResponseFraction(value: unknown): value is number {
  return typeof value === "number" && value >= FRACTION_MIN && value <= FRACTION_MAX;
}

export interface ResponseNow {
  /** Measured over model. [1] > 0 */
  readonly fraction: number;
  /** It was learned with the sun where it stands now, not elsewhere. */
  readonly isOfHere: boolean;
}

export function responseAt(response: ArrayResponse, sun: SunPosition): ResponseNow {
  const cell = cellOf(sun);
  const { cells } = response;
  const here = numberOrNullAt(cells, cell);
  if (here !== null) return { fraction: here, isOfHere: true };
  // The sun comes slowly into new heights: those beside them are the best guess.
  const near = neighbour(cells, cell, 1) ?? neighbour(cells, cell, -1);
  return { fraction: near ?? response.generalFraction, isOfHere: false };
}

/**
 * @param sample - Mean of five minutes, certainly not curtailed.
 * @param sample.slowClearness - How clear the last hours were. [1] ≥ 0
 */
export function learnResponse(
  response: ArrayResponse,
  sun: SunPosition,
  sample: { readonly fraction: number; readonly slowClearness: number },
): ArrayResponse {
  const { fraction } = responseAt(response, sun);
  const followed = follow(fraction, sample);
  return {
    id: response.id,
    generalFraction: towards(
      response.generalFraction,
      sample.fraction,
      sample.fraction > response.generalFraction ? GENERAL_UP : GENERAL_DOWN,
    ),
    // A dull moment tells nothing of the place, not even that it was seen.
    cells:
      followed === fraction
        ? response.cells
        : withNumberOrNull(response.cells, cellOf(sun), followed),
  };
}

function follow(
  known: number,
  { fraction, slowClearness }: { readonly fraction: number; readonly slowClearness: number },
): number {
  const down = GAIN_DOWN * Math.min(1, Math.max(0, (slowClearness - DULL) / (CLEAR - DULL)));
  return towards(known, fraction, fraction > known ? GAIN_UP : down);
}

function towards(known: number, fraction: number, gain: number): number {
  return Math.min(FRACTION_MAX, Math.max(FRACTION_MIN, known + gain * (fraction - known)));
}

function cellOf({ azimuthDeg, altitudeDeg }: SunPosition): number {
  const azimuth = Math.min(AZIMUTH_CELLS - 1, Math.floor(azimuthDeg / 10));
  const altitude = Math.min(ALTITUDE_CELLS - 1, Math.max(0, Math.floor(altitudeDeg / 5)));
  return azimuth * ALTITUDE_CELLS + altitude;
}

function neighbour(cells: readonly (number | null)[], cell: number, step: 1 | -1): number | null {
  const altitude = (cell % ALTITUDE_CELLS) + step;
  return altitude < 0 || altitude >= ALTITUDE_CELLS ? null : numberOrNullAt(cells, cell + step);
}
