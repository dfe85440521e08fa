/**
 * What is remembered of the arrays: how the site differs from the clear-sky model, and how clear it
 * was when that could last be seen. Plain numbers of a fixed count.
 */
import { planeNormal } from "../solar/array.ts";
import { initialPlane } from "./seen-plane.ts";
import type { SeenPlane } from "./seen-plane.ts";
import type { ControlSettings, SourceSettings } from "./settings.ts";

export const AZIMUTH_CELLS = 36;
export const ALTITUDE_CELLS = 18;
/** Before it is known how far sensor and arrays differ from moment to moment. [1] */
export const SPREAD_AT_FIRST = 0.1;

const UPWARDS = { east: 0, north: 0, up: 1 };

/** The same object from tick to tick while nothing is learned. */
export interface ArrayResponse {
  readonly id: string;
  /** The best of measured over model, wherever the sun stood. [1] > 0 */
  readonly generalFraction: number;
  /**
   * …and by where the sun stands: a row of altitudes, 5° each, for every 10° of azimuth;
   * null: not seen yet. [1] > 0
   */
  readonly cells: readonly (number | null)[];
  /** What each of them counts for, and the plane for the rest. [1] 0…1; null: not seen yet */
  readonly weights: readonly (number | null)[];
  /** …and how it gives as a whole. */
  readonly plane: SeenPlane;
}

/** One stretch of five minutes that is being averaged. */
export interface ResponseSlot {
  /** Count of such stretches since 1970. */
  readonly slot: number;
  /** Measured and modelled power of each source, summed over the ticks. [W] */
  readonly measuredW: readonly number[];
  readonly modelW: readonly number[];
  readonly ticks: readonly number[];
}

export interface ClearnessMemory {
  /** Measured over model × response, over about ten minutes; null: not seen yet. [1] ≥ 0 */
  readonly clearness: number | null;
  /** Over an hour and a half, and against the best of all the site. [1] 0…1 */
  readonly slowClearness: number;
  /** When it could last be seen. */
  readonly seenAtMs: number | null;
  /** Clearness by the arrays over that by the irradiance sensor, on the whole. [1] > 0 */
  readonly sensorFactor: number;
  /** …seen together for so long. [ms] 0…a limit */
  readonly sensorSeenMs: number;
  /** …and by how much less than that the arrays show at times. [1] 0…1 */
  readonly sensorSpread: number;
}

export interface PotentialMemory {
  /** One for each source; a turbine's stays as it began. */
  readonly responses: readonly ArrayResponse[];
  readonly slot: ResponseSlot | null;
  readonly sky: ClearnessMemory;
}

export function initialPotential(settings: Pick<ControlSettings, "sources">): PotentialMemory {
  return {
    responses: settings.sources.map(initialResponse),
    slot: null,
    sky: {
      clearness: null,
      slowClearness: 1,
      seenAtMs: null,
      sensorFactor: 1,
      sensorSeenMs: 0,
      sensorSpread: SPREAD_AT_FIRST,
    },
  };
}

/** A turbine has one, too: each source has its place in the list. */
export function initialResponse(source: SourceSettings): ArrayResponse {
  return {
    id: source.id,
    generalFraction: 1,
    cells: new Array<number | null>(AZIMUTH_CELLS * ALTITUDE_CELLS).fill(null),
    weights: new Array<number | null>(AZIMUTH_CELLS * ALTITUDE_CELLS).fill(null),
    plane: initialPlane(source.kind === "array" ? planeNormal(source) : UPWARDS),
  };
}
