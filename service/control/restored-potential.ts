/** What was learned of the arrays, out of what the run before saved; nonsense counts as unseen. */
import { SENSOR_WEIGHT_MS } from "./irradiance.ts";
import type { ArrayResponse, ClearnessMemory, PotentialMemory } from "./potential-memory.ts";
import { planeAgain } from "./restored-plane.ts";
import { fieldOf, isBounded, listOf, numberOf } from "./saved-fields.ts";
import { isResponseFraction } from "./site-response.ts";

/** The sky of longer ago tells nothing of now. [ms] Ours, no source */
const SKY_KEPT_MS = 3_600_000;
const UNWEIGHTED = 0.5;

/**
 * @param bridge.gapMs - How long the service was away; null: nobody knows.
 * @param bridge.past - An instant of the run before, as one of this run.
 */
export function potentialAgain(
  blank: PotentialMemory,
  saved: unknown,
  bridge: { readonly gapMs: number | null; readonly past: (instantMs: number) => number },
): PotentialMemory {
  const responses = listOf(saved, "responses");
  const { gapMs, past } = bridge;
  const sky = fieldOf(saved, "sky");
  const blankSky = sensorAgain(blank.sky, sky);
  return {
    responses: blank.responses.map((response) =>
      responseAgain(
        response,
        responses.find((one) => fieldOf(one, "id") === response.id),
      ),
    ),
    slot: null,
    sky: gapMs === null || gapMs > SKY_KEPT_MS ? blankSky : skyAgain(blankSky, sky, past),
  };
}

function responseAgain(blank: ArrayResponse, saved: unknown): ArrayResponse {
  const general = fieldOf(saved, "generalFraction");
  const { cells, weights } = cellsAgain(blank, saved);
  return {
    id: blank.id,
    generalFraction: isResponseFraction(general) ? general : blank.generalFraction,
    cells,
    weights,
    plane: planeAgain(blank.plane, fieldOf(saved, "plane")),
  };
}

/** A version before kept no weights: its cells count for half, until they are seen again. */
function cellsAgain(
  blank: ArrayResponse,
  saved: unknown,
): Pick<ArrayResponse, "cells" | "weights"> {
  const cells = listOf(saved, "cells").map((cell) => (isResponseFraction(cell) ? cell : null));
  if (cells.length !== blank.cells.length) return blank;
  const kept = listOf(saved, "weights");
  const weights = cells.map((cell, index) => {
    const weight = kept[index] ?? UNWEIGHTED;
    return cell !== null && isWeight(weight) ? weight : null;
  });
  return { cells: cells.map((cell, index) => (weights[index] === null ? null : cell)), weights };
}

function isWeight(value: unknown): value is number {
  return isBounded(value) && value > 0 && value <= 1;
}

function skyAgain(
  blank: ClearnessMemory,
  saved: unknown,
  past: (instantMs: number) => number,
): ClearnessMemory {
  const clearness = numberOf(saved, "clearness");
  const slowClearness = numberOf(saved, "slowClearness");
  const seenAtMs = numberOf(saved, "seenAtMs");
  const isSound = clearness !== null && clearness >= 0 && seenAtMs !== null;
  if (!isSound || slowClearness === null) return blank;
  return {
    ...blank,
    clearness: Math.min(clearness, 1),
    slowClearness: Math.min(1, Math.max(0, slowClearness)),
    seenAtMs: past(seenAtMs),
  };
}

/** How the sensor differs from the arrays does not grow old. */
function sensorAgain(blank: ClearnessMemory, saved: unknown): ClearnessMemory {
  const sensorFactor = numberOf(saved, "sensorFactor");
  const seenMs = numberOf(saved, "sensorSeenMs");
  if (sensorFactor === null || sensorFactor <= 0 || seenMs === null || seenMs < 0) return blank;
  const spread = numberOf(saved, "sensorSpread");
  const isSpread = spread !== null && spread >= 0 && spread <= 1;
  return {
    ...blank,
    sensorFactor,
    sensorSeenMs: Math.min(SENSOR_WEIGHT_MS, seenMs),
    sensorSpread: isSpread ? spread : blank.sensorSpread,
  };
}
