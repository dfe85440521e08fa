/**
 * How an array at this site differs from the model of a clean one under a clear sky, by where the
 * sun stands: trees, ridges, dirt, a tilt that is not as written, the haze of the region.
 *
 * The problem: a cloud lowers a sample just as a tree does. But a tree is there on every clear day,
 * and no cloud is. So what is followed is a high value: quickly upwards, and slowly downwards, the
 * more slowly the duller the last hours were. Under snow or a week of fog next to nothing is
 * forgotten. What was learned fades by being learned anew; there is no other forgetting.
 *
 * A place counts for the more the more of it was seen; for the rest, and where nothing was seen,
 * stands the plane that explains the other places best (`seen-plane.ts`).
 */
import type { SunPosition } from "../solar/sun.ts";
import type { ArrayPlane, Direction } from "../solar/array.ts";
import { nearPowerFrom, nearSun } from "../solar/array-model.ts";
import type { Place } from "../solar/array-model.ts";
import { numberOrNullAt, withNumberOrNull } from "./item-at.ts";
import { ALTITUDE_CELLS, AZIMUTH_CELLS } from "./potential-memory.ts";
import type { ArrayResponse } from "./potential-memory.ts";
import { learnPlane, planeFraction, planeSpread } from "./seen-plane.ts";

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

/** Where the sun stands, and where the model's power comes from. */
export interface SunAt {
  readonly sun: SunPosition;
  readonly from: Direction;
}

/** An array that is held back, by what is known of it. */
export interface HiddenArray {
  /** Of a clean one under a clear sky. [W] > 0 */
  readonly modelW: number;
  readonly at: SunAt;
  readonly response: ArrayResponse;
}

export function sunAt(array: ArrayPlane, place: Place, wallMs: number): SunAt {
  return { sun: nearSun(place, wallMs), from: nearPowerFrom(array, place, wallMs) };
}

export interface ResponseNow {
  /** Measured over model. [1] > 0 */
  readonly fraction: number;
  /** What the plane alone says of it, for want of samples from here. [1] 0…1 */
  readonly unseenFraction: number;
  /** How far the plane may be wrong here, against `fraction`: a standard deviation. [1] ≥ 0 */
  readonly spreadFraction: number;
}

export function responseAt(response: ArrayResponse, at: SunAt): ResponseNow {
  const fraction = fractionAt(response, at);
  return {
    fraction,
    unseenFraction: 1 - (numberOrNullAt(response.weights, cellOf(at.sun)) ?? 0),
    spreadFraction: planeSpread(response.plane, at.from) / fraction,
  };
}

/** Measured over model. [1] > 0 */
export function fractionAt({ cells, weights, plane }: ArrayResponse, at: SunAt): number {
  const cell = cellOf(at.sun);
  const expected = planeFraction(plane, at.from);
  const seen = numberOrNullAt(cells, cell);
  const weight = numberOrNullAt(weights, cell);
  return seen === null || weight === null ? expected : expected + weight * (seen - expected);
}

/** Mean of five minutes, certainly not curtailed. */
export interface ResponseSample extends SunAt {
  /** Measured over model. [1] ≥ 0 */
  readonly fraction: number;
  /** The model's power over the array's peak. [1] > 0 */
  readonly powerFraction: number;
  /** How clear the last hours were. [1] ≥ 0 */
  readonly slowClearness: number;
}

export function learnResponse(response: ArrayResponse, sample: ResponseSample): ArrayResponse {
  const { from, fraction, powerFraction, slowClearness } = sample;
  const { generalFraction } = response;
  const brightness = Math.min(1, Math.max(0, (slowClearness - DULL) / (CLEAR - DULL)));
  const gain = fraction > fractionAt(response, sample) ? GAIN_UP : brightness * GAIN_DOWN;
  const generalGain = fraction > generalFraction ? GENERAL_UP : GENERAL_DOWN;
  const cell = cellOf(sample.sun);
  // A dull moment tells nothing of the place, not even that it was seen.
  const isTold = gain > 0;
  return {
    id: response.id,
    generalFraction: bounded(generalFraction + generalGain * (fraction - generalFraction)),
    cells: isTold ? cellsAfter(response, cell, { fraction, gain }) : response.cells,
    weights: isTold
      ? withNumberOrNull(response.weights, cell, weightAfter(response, cell, gain))
      : response.weights,
    plane: learnPlane(response.plane, { from, fraction, powerFraction, brightness }),
  };
}

function cellsAfter(
  response: ArrayResponse,
  cell: number,
  { fraction, gain }: { readonly fraction: number; readonly gain: number },
): ArrayResponse["cells"] {
  const seen = numberOrNullAt(response.cells, cell) ?? fraction;
  const share = gain / weightAfter(response, cell, gain);
  return withNumberOrNull(response.cells, cell, bounded(seen + share * (fraction - seen)));
}

function weightAfter({ weights }: ArrayResponse, cell: number, gain: number): number {
  const weight = numberOrNullAt(weights, cell) ?? 0;
  return weight + gain * (1 - weight);
}

function bounded(fraction: number): number {
  return Math.min(FRACTION_MAX, Math.max(FRACTION_MIN, fraction));
}

function cellOf({ azimuthDeg, altitudeDeg }: SunPosition): number {
  const azimuth = Math.min(AZIMUTH_CELLS - 1, Math.floor(azimuthDeg / 10));
  const altitude = Math.min(ALTITUDE_CELLS - 1, Math.max(0, Math.floor(altitudeDeg / 5)));
  return azimuth * ALTITUDE_CELLS + altitude;
}
