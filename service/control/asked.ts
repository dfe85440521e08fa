/**
 * What a person, or a load's own deadline, asks of it, and for how long.
 *
 * - `run`: they want it on. What the battery could do without it no longer counts; everything that
 *   protects a load, the inverter, a feeder or the battery's floor still does. Once one of these
 *   has said no, or the load wants nothing more, the request is over: what was asked for before
 *   a fault must not start by itself after it.
 * - `hold`: they want it off. The interlock pass sees to that.
 * - `be-ready`: see `deadline.ts`. It is asked for anew at every tick, like a start on surplus.
 */
import type { SiteVerdict, Verdict } from "./decision.ts";
import { invariant } from "./invariant.ts";
import type { AskedMemory, LoadMemory } from "./memory.ts";
import type { LoadObservation, Observation } from "./observation.ts";
import type { DeadlineSettings } from "./settings.ts";
import { fullVerdict, measuredVerdict, timedVerdict } from "./verdict.ts";
import { VERDICT_CODES } from "./verdict-codes.ts";
import type { VerdictCode } from "./verdict-codes.ts";

const MS_PER_HOUR = 3_600_000;
/** Nobody remembers a request of the day before. [ms] */
export const ASKED_MAX_MS = 12 * MS_PER_HOUR;

/** What is asked for at this tick; the same object while that does not change. */
export function askedNow(
  { asked }: LoadMemory,
  { request, requestForMs }: LoadObservation,
  nowMs: number,
): AskedMemory | null {
  if (request === "run" || request === "hold") {
    return { wants: request, untilMs: nowMs + Math.min(ASKED_MAX_MS, Math.max(0, requestForMs)) };
  }
  if (asked === null || asked.wants === "be-ready") return null;
  if (request === "release" || nowMs >= asked.untilMs) return null;
  return asked;
}

export function isAskedToRun({ asked }: Pick<LoadMemory, "asked">): boolean {
  return asked !== null && asked.wants !== "hold";
}

/** Why a load is on that was asked to run; null: it was not. */
export function askedVerdict(
  { asked }: LoadMemory,
  stage: number,
  { observation, site, deadline }: AskedInput,
): Verdict | null {
  if (asked === null || asked.wants === "hold") return null;
  const remainingMs = askedLeftMs(asked, observation.monotonicMs);
  if (asked.wants === "run") return timedVerdict("running-asked", stage, remainingMs);
  invariant(deadline !== null, "only a deadline asks a load to be ready");
  const limit = deadline.mayDrawToFraction;
  const figures = { measured: site.socFraction, limit, remainingMs };
  return fullVerdict("running-to-be-ready", stage, figures);
}

interface AskedInput {
  readonly observation: Observation;
  readonly site: SiteVerdict;
  readonly deadline: DeadlineSettings | null;
}

/** Time until the request ends by itself. [ms] ≥ 0 */
export function askedLeftMs({ untilMs }: AskedMemory, nowMs: number): number {
  return Math.max(0, untilMs - nowMs);
}

/**
 * A run on request asks nothing of start and stop marks. Where only a voltage is known, which says
 * nothing of how near the floor is, they hold for it as for any other run.
 */
export function isFreeOfMarks(load: LoadMemory, { socFraction }: SiteVerdict): boolean {
  return isAskedToRun(load) && socFraction !== null;
}

/** Why a run on request may not take more out of the battery; null while it may. */
export function floorRefusal(
  { socFraction }: SiteVerdict,
  { floorFraction }: { readonly floorFraction: number },
): Verdict | null {
  if (socFraction === null || socFraction >= floorFraction) return null;
  return measuredVerdict("asked-floor", 0, { measured: socFraction, limit: floorFraction });
}

/** After the tick's decision: a run that was refused, or has done what it was to do, is over. */
export function askedAfter({ asked }: LoadMemory, verdict: VerdictCode): AskedMemory | null {
  return asked !== null && asked.wants === "run" && RUN_ENDS.has(verdict) ? null : asked;
}

/** Beside the interlocks: the load wants nothing, is on by hand, or the battery is at its floor. */
const RUN_ENDS: ReadonlySet<VerdictCode> = new Set<VerdictCode>([
  "asked-floor",
  "by-hand",
  "tank-warm",
  "quota-run-met",
  "quota-energy-met",
  "outside-window",
  "cistern-full",
  "waiting-request",
  "idle-thermostat",
  "idle-no-power",
  ...interlockCodes(),
]);

function interlockCodes(): VerdictCode[] {
  const codes: VerdictCode[] = [];
  let code: VerdictCode;
  for (code in VERDICT_CODES) {
    if (VERDICT_CODES[code].isInterlock) codes.push(code);
  }
  return codes;
}
