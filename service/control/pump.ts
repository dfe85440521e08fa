/**
 * What can go wrong with a pump beside its switch: it runs dry, its source is low, its cistern is
 * full or not seen, its pipe freezes. A signal that has fallen silent counts as the worst.
 */
import { PROVEN_MS } from "./actuators.ts";
import { hasHeld, heldSince } from "./blocks/held-since.ts";
import { heatingHysteresis } from "./blocks/hysteresis.ts";
import type { Verdict } from "./decision.ts";
import type { GuardMemory, LoadMemory } from "./memory.ts";
import type { LoadObservation, Reading } from "./observation.ts";
import type { LoadSettings, PumpSettings } from "./settings.ts";
import { fullVerdict, measuredVerdict, verdictOf } from "./verdict.ts";

/** A well needs time to fill again. Ours, no source. [ms] */
const DRY_REST_MS = 1_800_000;

type PumpMemory = Pick<GuardMemory, "drySinceMs" | "dryTimes" | "wantsFilling">;

/** Carries the pump's memory on by a tick. */
export function advancePump(
  load: LoadMemory,
  observation: LoadObservation,
  input: { readonly settings: LoadSettings; readonly nowMs: number },
): PumpMemory {
  const { settings, nowMs } = input;
  const { guard } = load;
  const { pump } = settings;
  if (pump === null) return guard;
  const isWatched = load.stage > 0 && load.isConfirmed;
  const isDry = isWatched && dryReading(load, observation, input) !== null;
  const drySinceMs = heldSince(guard.drySinceMs, isDry, nowMs);
  const hasRunDry = isRunDry(drySinceMs, pump, nowMs);
  // Until it could have been seen to run dry, running proves nothing.
  const unseenMs = settings.settleMs + settings.startPowerMs + (pump.dryRun?.forMs ?? 0);
  const provenMs = Math.max(settings.minRunMs, unseenMs + PROVEN_MS);
  const isProven = isWatched && !isDry && nowMs - load.changedAtMs >= provenMs;
  return {
    drySinceMs,
    dryTimes: isProven ? 0 : guard.dryTimes + (hasRunDry ? 1 : 0),
    wantsFilling: wantsFilling(guard.wantsFilling, observation.levelFraction, pump),
  };
}

/** Why a pump must be off now, or stay so. */
export function pumpInterlock(
  load: LoadMemory,
  observation: LoadObservation,
  input: { readonly settings: LoadSettings; readonly nowMs: number },
): Verdict | null {
  const { pump } = input.settings;
  if (pump === null) return null;
  const isDry = isRunDry(load.guard.drySinceMs, pump, input.nowMs);
  return (
    (isDry ? dryReading(load, observation, input) : null) ??
    sourceInterlock(observation, pump) ??
    pipeInterlock(observation, pump) ??
    (isUnwatched(observation, pump) ? verdictOf("pump-unwatched", 0) : null)
  );
}

/** How long a pump that ran dry still has to rest; null: not at all. */
export function dryRunWait(
  load: LoadMemory,
  settings: LoadSettings,
  nowMs: number,
): Verdict | null {
  const { dryTimes } = load.guard;
  const remainingMs = load.stoppedAtMs + DRY_REST_MS - nowMs;
  if (dryTimes === 0 || remainingMs <= 0) return null;
  return fullVerdict("waiting-dry-run", 0, {
    measured: dryTimes,
    limit: settings.latchAfter,
    remainingMs,
  });
}

export function isDryTooOften({ dryTimes }: GuardMemory, { latchAfter }: LoadSettings): boolean {
  return dryTimes >= latchAfter;
}

function wantsFilling(wanted: boolean, level: Reading, pump: PumpSettings): boolean {
  if (pump.level === null || level.quality !== "fresh") return wanted;
  return heatingHysteresis(wanted, {
    value: level.value,
    onAt: pump.level.resumeFraction,
    offAt: pump.level.fullFraction,
  });
}

function isRunDry(drySinceMs: number | null, { dryRun }: PumpSettings, nowMs: number): boolean {
  return dryRun !== null && hasHeld(drySinceMs, dryRun.forMs, nowMs);
}

/** The reading that says "dry", measured after the pump had time to draw water; null: none. */
function dryReading(
  load: LoadMemory,
  observation: LoadObservation,
  { settings, nowMs }: { readonly settings: LoadSettings; readonly nowMs: number },
): Verdict | null {
  const dryRun = settings.pump?.dryRun ?? null;
  if (dryRun === null) return null;
  const primedAtMs = load.changedAtMs + settings.settleMs + settings.startPowerMs;
  const isUnder = ({ value, quality, ageMs }: Reading, limit: number | null): boolean =>
    limit !== null && quality === "fresh" && nowMs - ageMs >= primedAtMs && value < limit;
  const { powerW, flowLPerMin } = observation;
  if (isUnder(powerW, dryRun.belowW)) {
    return measuredVerdict("pump-dry", 0, { measured: powerW.value, limit: dryRun.belowW });
  }
  if (!isUnder(flowLPerMin, dryRun.belowLPerMin)) return null;
  return measuredVerdict("pump-no-flow", 0, {
    measured: flowLPerMin.value,
    limit: dryRun.belowLPerMin,
  });
}

function isUnwatched({ powerW, flowLPerMin }: LoadObservation, { dryRun }: PumpSettings): boolean {
  if (dryRun === null) return false;
  return (
    (dryRun.belowW !== null && powerW.quality !== "fresh") ||
    (dryRun.belowLPerMin !== null && flowLPerMin.quality !== "fresh")
  );
}

/** Both ends of the pipe: water to take, and a place for it that is seen. */
function sourceInterlock(observation: LoadObservation, pump: PumpSettings): Verdict | null {
  const { isSourceLow, levelFraction } = observation;
  if (pump.hasSourceContact) {
    if (isSourceLow.quality !== "fresh") return verdictOf("pump-source-unknown", 0);
    if (isSourceLow.value) return verdictOf("pump-source-low", 0);
  }
  const isLevelLost = pump.level !== null && levelFraction.quality !== "fresh";
  return isLevelLost ? verdictOf("level-unknown", 0) : null;
}

function pipeInterlock(
  { pipeTemperatureC }: LoadObservation,
  { pipeMinC }: PumpSettings,
): Verdict | null {
  if (pipeMinC === null) return null;
  if (pipeTemperatureC.quality !== "fresh") return verdictOf("pipe-unknown", 0);
  if (pipeTemperatureC.value >= pipeMinC) return null;
  return measuredVerdict("pipe-cold", 0, { measured: pipeTemperatureC.value, limit: pipeMinC });
}
