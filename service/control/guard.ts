/** The protections of particular loads (tanks, pumps, sockets), taken together. */
import type { Verdict } from "./decision.ts";
import {
  advanceHeating,
  countUnwarmed,
  elementInterlock,
  elementWait,
  isElementDry,
  isOpenTooOften,
} from "./element.ts";
import type { GuardMemory, LoadLatch, LoadMemory } from "./memory.ts";
import type { LoadObservation } from "./observation.ts";
import { advancePump, dryRunWait, isDryTooOften, pumpInterlock } from "./pump.ts";
import type { LoadSettings } from "./settings.ts";
import { advanceSockets, isOverloadedTooOften, socketsInterlock } from "./sockets.ts";

export interface GuardInput {
  readonly settings: LoadSettings;
  readonly nowMs: number;
  /** Drawn since the tick before. [Wh] AC */
  readonly energyWh: number;
  readonly isAfterGap: boolean;
  readonly isNewDay: boolean;
}

/** There is more to watch of the load than its switch. */
export function isGuarded({ tank, pump, sockets }: LoadSettings): boolean {
  return tank !== null || pump !== null || sockets !== null;
}

/** The guard's memory after this tick's observation; the same object if nothing changes in it. */
export function advanceGuard(
  load: LoadMemory,
  observation: LoadObservation,
  input: GuardInput,
): GuardMemory {
  const cleared = observation.request === "clear" ? { ...load, guard: clear(load.guard) } : load;
  const { guard } = cleared;
  const heating = advanceHeating(cleared, observation, input);
  const pump = advancePump(cleared, observation, input);
  const sockets = advanceSockets(cleared, observation, input);
  const unwarmedTimes = countUnwarmed(guard, heating, input.settings);
  const isSame =
    heating === guard.heating &&
    unwarmedTimes === guard.unwarmedTimes &&
    pump.drySinceMs === guard.drySinceMs &&
    pump.dryTimes === guard.dryTimes &&
    pump.wantsFilling === guard.wantsFilling &&
    sockets.requestedAtMs === guard.requestedAtMs &&
    sockets.overloadsToday === guard.overloadsToday;
  if (isSame) return guard;
  return {
    heating,
    unwarmedTimes,
    drySinceMs: pump.drySinceMs,
    dryTimes: pump.dryTimes,
    wantsFilling: pump.wantsFilling,
    requestedAtMs: sockets.requestedAtMs,
    pressesAfterMs: guard.pressesAfterMs,
    warnedSinceMs: guard.warnedSinceMs,
    overloadsToday: sockets.overloadsToday,
  };
}

/** Whether `guard`, just carried on, latches a load that is not latched yet. */
export function latchOf(
  latch: LoadLatch,
  guarded: { readonly guard: GuardMemory; readonly observation: LoadObservation },
  input: Pick<GuardInput, "settings" | "nowMs">,
): LoadLatch {
  const { settings } = input;
  if (latch !== "none") return latch;
  const { guard, observation } = guarded;
  if (isElementDry(guard.heating, observation, input)) return "latched-element";
  if (isOpenTooOften(guard)) return "latched-open";
  if (settings.pump !== null && isDryTooOften(guard, settings)) return "latched-dry-run";
  return isOverloadedTooOften(guard) ? "latched-sockets" : "none";
}

/** Why a load that is guarded must be off now, or stay so. */
export function guardInterlock(
  load: LoadMemory,
  observation: LoadObservation,
  input: Pick<GuardInput, "settings" | "nowMs">,
): Verdict | null {
  return (
    elementInterlock(load.guard, input.settings) ??
    pumpInterlock(load, observation, input) ??
    socketsInterlock(load, observation, input.settings)
  );
}

/** What a load that had to be stopped still waits for. */
export function guardWait(load: LoadMemory, settings: LoadSettings, nowMs: number): Verdict | null {
  if (!isGuarded(settings)) return null;
  return elementWait(load, nowMs) ?? dryRunWait(load, settings, nowMs);
}

/** A person has looked. */
function clear(guard: GuardMemory): GuardMemory {
  return { ...guard, heating: null, unwarmedTimes: 0, dryTimes: 0, overloadsToday: 0 };
}
