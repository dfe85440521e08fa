/** Advice as sentences, written out here so that terminal, HTTP, MQTT and page say the same. */
import { explainFinding, formatQuantity } from "../explain.ts";
import type { Light } from "./advice.ts";
import { ADVICE_CODES, CONFIDENCE_CODES, REFUSAL_CODES } from "./guidance-codes.ts";
import type { AdviceEntry, ConfidenceCode } from "./guidance-codes.ts";
import type { Refusal } from "./guidance.ts";
import type { LocalInstant } from "./prospect.ts";
import type { Start } from "./starts.ts";
import type { DaysKept } from "./times-record.ts";

const MINUTES_PER_HOUR = 60;

export function explainRefusal({ code, finding }: Refusal): string {
  return finding === null ? REFUSAL_CODES[code].sentence : explainFinding(finding);
}

/** What the light says, and where to look if nothing is good today. No full stop at the end. */
export function explainLight(light: Light, localTimeAt: (wallMs: number) => LocalInstant): string {
  const timeOf = (wallMs: number): string => clockText(localTimeAt(wallMs));
  const { code, measured, limit, to, tomorrowAtMs } = light;
  const time = to === null ? "?" : timeOf(to.atMs);
  const text = fill(ADVICE_CODES[code], { measured, limit }).replace("{time}", time);
  if (code === "good-now" || code === "good-later") return text;
  return tomorrowAtMs === null
    ? `${text}; no good time is seen for tomorrow yet`
    : `${text}; good tomorrow from ${timeOf(tomorrowAtMs)} on`;
}

/** @param days - On which such times were said before, and came true; null: too few to tell. */
export function explainConfidence(
  code: ConfidenceCode,
  recordDays: number,
  days: DaysKept | null,
): string {
  const text = fill(CONFIDENCE_CODES[code], { measured: recordDays, limit: null });
  if (days === null) return text;
  const { said, kept } = days;
  return `${text}; said so on ${String(said)} days before, true on ${String(kept)}`;
}

/** What a start would come to. No full stop at the end. */
export function explainCost(start: Start): string {
  if (start.closedBy === "hours") return "outside its hours";
  if (start.closedBy === "inverter") return "more than the inverter can carry beside everyday use";
  const { cautiousMissing, middleMissing, sunShare, takenWh } = start;
  const missing =
    cautiousMissing === 0
      ? "nothing is missing below the rule curve"
      : `${formatQuantity(middleMissing, "fraction")} missing below the rule curve, ` +
        `on the cautious side ${formatQuantity(cautiousMissing, "fraction")}`;
  const straight = `${formatQuantity(sunShare, "fraction")} straight from the sources`;
  const taken =
    takenWh < 10
      ? "nothing is taken from other loads"
      : `other loads get ${formatQuantity(takenWh, "energyWh")} less`;
  return `${missing}; ${straight}; ${taken}`;
}

function fill(
  entry: AdviceEntry,
  numbers: { readonly measured: number | null; readonly limit: number | null },
): string {
  const written = (value: number | null, kind: AdviceEntry["measured"]): string =>
    value === null || kind === null ? "?" : formatQuantity(value, kind);
  return entry.sentence
    .replace("{measured}", written(numbers.measured, entry.measured))
    .replace("{limit}", written(numbers.limit, entry.limit));
}

/** As the clock on the wall shows it, by 24 hours. */
export function clockText({ localMinute }: LocalInstant): string {
  const hour = Math.floor(localMinute / MINUTES_PER_HOUR);
  return `${twoDigits(hour)}:${twoDigits(localMinute % MINUTES_PER_HOUR)}`;
}

function twoDigits(value: number): string {
  return String(value).padStart(2, "0");
}
