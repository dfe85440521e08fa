/**
 * A load that has to be ready by a time of day. It runs on surplus as long as that may do, and only
 * when no more time is left than it needs does it draw on the battery, no further down than its
 * owner allows; where that is not allowed, a person is told while there is still time.
 *
 * What surplus will still come is not asked: to start at the last moment leaves the sun every
 * chance, and is right whatever the sky does.
 */
import type { AskedMemory, LoadMemory } from "./memory.ts";
import type { LoadObservation, Observation } from "./observation.ts";
import type { DeadlineSettings, LoadSettings } from "./settings.ts";
import { allotmentW } from "./stage-power.ts";
import type { Verdict } from "./decision.ts";
import { fullVerdict, timedVerdict } from "./verdict.ts";
import type { VerdictCode } from "./verdict-codes.ts";

/** Time given beyond what it needs by its power: for losses, draws, waits. Ours, no source */
const MARGIN = 1.25;
const SPARE_MS = 300_000;
/** Above the state of charge down to which it may draw, for it to begin. [1] Ours, no source */
const RESUME_FRACTION = 0.02;
/** A tank that has been ready is not heated again for less than this. [K] Ours, no source */
const RESUME_K = 2;
/** Heat of water: 4.187 kJ/(kg·K), about 20 °C; common knowledge, no source. [Wh/(L·K)] */
const WATER_WH_PER_LITRE_K = 1.163;
const MS_PER_HOUR = 3_600_000;
const MS_PER_MINUTE = 60_000;
const MINUTES_PER_DAY = 1440;

interface DueInput {
  readonly settings: LoadSettings;
  readonly observation: Pick<
    Observation,
    "wallMs" | "localMinute" | "clockChangeMs" | "clockShiftMin" | "isWallClockPlausible"
  >;
  readonly load: Pick<LoadObservation, "tankTemperatureC">;
}

/**
 * Time left for a load that has to run now to be ready; null: it has not. Once it is at it, it
 * stays so until it is ready: with the time that it gains it would else stop and start. [ms] > 0
 */
export function dueLeftMs(memory: LoadMemory, input: DueInput): number | null {
  const { deadline } = input.settings;
  if (deadline === null || !input.observation.isWallClockPlausible) return null;
  const neededMs = neededRunMs(memory, deadline, input);
  if (neededMs === null || neededMs <= 0) return null;
  const leftMs = untilMs(deadline, input.observation);
  return isAtIt(memory) || leftMs <= MARGIN * neededMs + SPARE_MS ? leftMs : null;
}

function isAtIt({ asked }: LoadMemory): boolean {
  return asked !== null && asked.wants === "be-ready";
}

/**
 * Until the local time by which it is to be ready next; one that the clocks leave out is when they
 * are put forward, of one that comes twice it is the first. [ms] 1 min…24 h, to 25 h as they change
 */
function untilMs({ byMinute }: DeadlineSettings, observation: DueInput["observation"]): number {
  const minutes = byMinute - observation.localMinute;
  const leftMs = (minutes > 0 ? minutes : minutes + MINUTES_PER_DAY) * MS_PER_MINUTE;
  const shiftMs = observation.clockShiftMin * MS_PER_MINUTE;
  const toChangeMs = observation.clockChangeMs - observation.wallMs;
  // Of what is not a number neither is so.
  if (!(shiftMs > 0) && !(shiftMs < 0)) return leftMs;
  return leftMs < toChangeMs ? leftMs : Math.max(toChangeMs, leftMs - shiftMs);
}

/** Run time that it lacks; null: not to be known. [ms] */
function neededRunMs(
  memory: LoadMemory,
  { reachC, reachRunMs, reachWh }: DeadlineSettings,
  { settings, load }: DueInput,
): number | null {
  if (reachRunMs !== null) return reachRunMs - memory.ranTodayMs;
  const powerW = surelyW(memory, settings);
  if (reachWh !== null) return ((reachWh - memory.usedTodayWh) / powerW) * MS_PER_HOUR;
  const { quality, value } = load.tankTemperatureC;
  const volumeL = settings.tank === null ? null : settings.tank.volumeL;
  if (reachC === null || volumeL === null || quality !== "fresh") return null;
  if (value > (isAtIt(memory) ? reachC : reachC - RESUME_K)) return 0;
  return (((reachC - value) * volumeL * WATER_WH_PER_LITRE_K) / powerW) * MS_PER_HOUR;
}

/**
 * Of its greatest stage, as learned where it was. A modulating load counts with its least: what it
 * rises to above that is surplus, which may not come. [W] AC
 */
function surelyW(memory: LoadMemory, settings: LoadSettings): number {
  return allotmentW({ settings, memory }, settings.stagesW.length);
}

/**
 * The run that a deadline asks for now; null: none. A person's wish, to run or to hold, goes first.
 *
 * @param socFraction - null: not known, and nothing is drawn on what is not known.
 */
export function runToBeReady(
  memory: LoadMemory,
  input: DueInput,
  now: { readonly nowMs: number; readonly socFraction: number | null },
): AskedMemory | null {
  const { deadline } = input.settings;
  if (deadline === null || deadline.mayDrawToFraction === null) return null;
  if (now.socFraction === null) return null;
  const { asked } = memory;
  const underWay = asked !== null && asked.wants === "be-ready" ? asked : null;
  const leastFraction = deadline.mayDrawToFraction + (underWay === null ? RESUME_FRACTION : 0);
  if (now.socFraction < leastFraction) return null;
  const leftMs = dueLeftMs(memory, input);
  if (leftMs === null) return null;
  if (underWay === null) return { wants: "be-ready", untilMs: now.nowMs + leftMs };
  // The same object while it lasts: nothing new is to be remembered of it.
  return now.nowMs < underWay.untilMs ? underWay : null;
}

/** What it would wait for is surplus, and there is no time left for that. */
const WAITS_FOR_SURPLUS: ReadonlySet<VerdictCode> = new Set<VerdictCode>([
  "waiting-band",
  "waiting-voltage",
  "waiting-full",
  "waiting-dwell",
  "waiting-power",
  "waiting-night",
  "waiting-full-charge",
  "waiting-try",
]);

/** That it will be late, in the place of why it waits; null: it will not, or waits for else. */
export function lateVerdict(
  memory: LoadMemory,
  input: DueInput,
  now: { readonly code: VerdictCode; readonly socFraction: number | null },
): Verdict | null {
  const { deadline } = input.settings;
  if (deadline === null || !WAITS_FOR_SURPLUS.has(now.code)) return null;
  const remainingMs = dueLeftMs(memory, input);
  if (remainingMs === null) return null;
  const limit = deadline.mayDrawToFraction;
  if (limit === null || now.socFraction === null) {
    return timedVerdict("late-without-sun", 0, remainingMs);
  }
  return fullVerdict("late-battery", 0, { measured: now.socFraction, limit, remainingMs });
}
