/** Writes down, once an hour by day, which starts are called good. */
import { itemAt } from "../item-at.ts";
import type { Appliance } from "./appliance.ts";
import type { PlacedStart } from "./advice.ts";
import type { ApplianceAdvice, Guidance, GuidanceInput } from "./guidance.ts";
import { confidenceIn } from "./guidance.ts";
import { stepPowersW } from "./starts.ts";
import { horizonOf, kindOf } from "./time-kinds.ts";
import type { SaidTime, TimesRecord } from "./times-record.ts";

const HOUR_MS = 3_600_000;
/** Two days of many appliances: what is more is not written down. */
export const SAID_MAX = 300;

/** @returns The same object if there is nothing to write down. */
export function timesSaid(
  record: TimesRecord,
  guidance: Guidance,
  input: GuidanceInput,
): TimesRecord {
  const { observation, site, appliances } = input;
  const hour = Math.floor(observation.wallMs / HOUR_MS);
  if (guidance.refusal !== null || site.isDaylight !== true || record.saidHour === hour) {
    return record;
  }
  const said = guidance.advice.flatMap((advice, index) =>
    saidOf(advice, itemAt(appliances, index), input),
  );
  return { ...record, saidHour: hour, said: [...record.said, ...said].slice(0, SAID_MAX) };
}

function saidOf(
  { now, days }: ApplianceAdvice,
  appliance: Appliance,
  input: GuidanceInput,
): SaidTime[] {
  const { wallMs } = input.observation;
  const bests = days.flatMap(({ best }) => (best === null || best.atMs <= wallMs ? [] : [best]));
  const stepW = stepPowersW(appliance, input.settings.inverter.efficiencyFraction);
  return [{ start: now, atMs: wallMs }, ...bests].flatMap((placed) => {
    const sunsetMs = sunsetAfter(placed.atMs, input);
    if (sunsetMs === null || !isToRemember(placed, input)) return [];
    const kind = kindOf(horizonOf(placed.atMs, input), placed.start.holdsInDoubt);
    return [{ kind, startMs: placed.atMs, sunsetMs, stepW }];
  });
}

/** What is only said with a warning is not held against the word. */
function isToRemember({ start, atMs }: PlacedStart, input: GuidanceInput): boolean {
  const code = confidenceIn(start, atMs, input);
  return start.grade === "good" && code !== "no-record" && code !== "own-count";
}

/** null: it begins after the last one that is known. */
function sunsetAfter(startMs: number, { memory }: GuidanceInput): number | null {
  const { clearDays } = memory.outlook;
  const sunsets = [clearDays?.today.sunsetMs ?? null, clearDays?.tomorrow.sunsetMs ?? null];
  return sunsets.find((sunsetMs) => sunsetMs !== null && startMs < sunsetMs) ?? null;
}
