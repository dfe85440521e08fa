/**
 * A panel with ordinary sockets. What hangs on it is not known: it is limited by opening it, never
 * by trusting it; and as people use it, they are warned before it goes off, unless an interlock
 * opens it. After that nothing that was left switched on may start by itself: where there is a
 * button, only a new press makes the sockets live again.
 */
import { heldSince } from "./blocks/held-since.ts";
import type { Verdict } from "./decision.ts";
import type { GuardMemory, LoadMemory } from "./memory.ts";
import type { LoadObservation } from "./observation.ts";
import type { LoadSettings, SocketsSettings } from "./settings.ts";
import { fullVerdict, measuredVerdict, timedVerdict, verdictOf } from "./verdict.ts";
import type { CodeEntry } from "./code-entry.ts";
import { VERDICT_CODES } from "./verdict-codes.ts";
import type { VerdictCode } from "./verdict-codes.ts";

/** Something on the sockets is in use above this; chargers at rest draw less. Ours. [W] */
const USE_MIN_W = 20;
/** Overloads within a day that latch the sockets. Ours. */
const OVERLOADS_MAX = 3;

/** People are warned while one of these holds. */
const PARTING_CODES: ReadonlySet<VerdictCode> = new Set<VerdictCode>([
  "sockets-going-off",
  "sockets-finishing",
]);

type SocketsMemory = Pick<GuardMemory, "requestedAtMs" | "overloadsToday">;

/** Carries the sockets' memory on by a tick. */
export function advanceSockets(
  load: LoadMemory,
  observation: LoadObservation,
  input: {
    readonly settings: LoadSettings;
    readonly nowMs: number;
    readonly isNewDay: boolean;
  },
): SocketsMemory {
  const { nowMs, isNewDay } = input;
  const { sockets } = input.settings;
  if (sockets === null) return load.guard;
  const isOver = load.stage > 0 && overloadW(observation, sockets) !== null;
  return {
    requestedAtMs: pressedAt(load, observation, nowMs),
    overloadsToday: (isNewDay ? 0 : load.guard.overloadsToday) + (isOver ? 1 : 0),
  };
}

export function isOverloadedTooOften({ overloadsToday }: GuardMemory): boolean {
  return overloadsToday >= OVERLOADS_MAX;
}

/** Why the sockets must be off now, or stay so. */
export function socketsInterlock(
  load: LoadMemory,
  observation: LoadObservation,
  settings: LoadSettings,
): Verdict | null {
  const { sockets, hasMeter } = settings;
  if (sockets === null || !hasMeter) return null;
  if (observation.powerW.quality !== "fresh") return verdictOf("sockets-unknown", 0);
  const measured = load.stage > 0 ? overloadW(observation, sockets) : null;
  if (measured === null) return null;
  return measuredVerdict("sockets-overload", 0, { measured, limit: sockets.maximumW });
}

/** Nobody asks for the sockets, or not any more. */
export function isRequestMissing(load: LoadMemory, settings: LoadSettings, nowMs: number): boolean {
  const { sockets } = settings;
  if (sockets === null || !sockets.hasRequest) return false;
  const { requestedAtMs } = load.guard;
  return requestedAtMs === null || nowMs - requestedAtMs >= sockets.requestMs;
}

/** What keeps the sockets on although they are to go off: people are warned, or finish. */
export function partingVerdict(
  load: LoadMemory,
  observation: LoadObservation,
  input: { readonly settings: LoadSettings; readonly nowMs: number },
): Verdict | null {
  const { sockets } = input.settings;
  if (sockets === null) return null;
  const warnedMs = input.nowMs - (load.guard.warnedSinceMs ?? input.nowMs);
  const warningLeftMs = sockets.warnMs - warnedMs;
  if (warningLeftMs > 0) {
    return timedVerdict("sockets-going-off", load.stage, warningLeftMs);
  }
  const remainingMs = warningLeftMs + sockets.finishGraceMs;
  const { value, quality } = observation.powerW;
  if (remainingMs <= 0 || quality !== "fresh" || value <= USE_MIN_W) return null;
  return fullVerdict("sockets-finishing", load.stage, {
    measured: value,
    limit: null,
    remainingMs,
  });
}

/** The guard once the tick's decision is settled. */
export function guardAfter(
  load: LoadMemory,
  outcome: { readonly stage: number; readonly verdict: VerdictCode },
  nowMs: number,
): GuardMemory {
  const { guard } = load;
  const entry: CodeEntry = VERDICT_CODES[outcome.verdict];
  const isOpened = load.stage > 0 && outcome.stage === 0 && entry.isInterlock;
  const isParting = PARTING_CODES.has(outcome.verdict);
  const warnedSinceMs = heldSince(guard.warnedSinceMs, isParting, nowMs);
  if (!isOpened && warnedSinceMs === guard.warnedSinceMs) return guard;
  return {
    heating: guard.heating,
    unwarmedTimes: guard.unwarmedTimes,
    drySinceMs: guard.drySinceMs,
    dryTimes: guard.dryTimes,
    wantsFilling: guard.wantsFilling,
    requestedAtMs: isOpened ? null : guard.requestedAtMs,
    pressesAfterMs: isOpened ? nowMs : guard.pressesAfterMs,
    warnedSinceMs: isOpened ? null : warnedSinceMs,
    overloadsToday: guard.overloadsToday,
  };
}

/** A press counts from its own instant, and only after the last stop by an interlock. */
function pressedAt(load: LoadMemory, observation: LoadObservation, nowMs: number): number | null {
  const { value, quality, ageMs } = observation.isPressed;
  const pressedAtMs = nowMs - ageMs;
  const counts = quality === "fresh" && value && pressedAtMs > load.guard.pressesAfterMs;
  return counts ? pressedAtMs : load.guard.requestedAtMs;
}

function overloadW({ powerW }: LoadObservation, { maximumW }: SocketsSettings): number | null {
  const { value, quality } = powerW;
  return quality === "fresh" && value > maximumW ? value : null;
}
