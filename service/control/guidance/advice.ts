/** From what each start would come to, to what a person is told. */
import { itemAt } from "../item-at.ts";
import type { AdviceCode } from "./guidance-codes.ts";
import { STEP_MS } from "./prospect.ts";
import type { Prospect } from "./prospect.ts";
import type { Grade, Start } from "./starts.ts";

/** Starts from `fromMs` on and before `toMs` are alike. */
export interface Stretch {
  readonly fromMs: number;
  readonly toMs: number;
  readonly grade: Grade;
}

export interface DayAdvice {
  readonly localDay: number;
  readonly stretches: readonly Stretch[];
  /** The best of its good starts; null: none is good. */
  readonly best: PlacedStart | null;
}

export interface PlacedStart {
  readonly atMs: number;
  readonly start: Start;
}

export interface Light {
  readonly code: AdviceCode;
  readonly measured: number | null;
  readonly limit: number | null;
  /** The start that it points to; null: none. */
  readonly to: PlacedStart | null;
  /** Where nothing is good today: the first good start of tomorrow; null: none is seen. */
  readonly tomorrowAtMs: number | null;
}

/** When the steps are. */
type Times = Pick<Prospect, "fromMs" | "localTimes">;

/** Differences under this are none. [Wh] */
const ALIKE_WH = 20;

function stepMs({ fromMs }: Times, step: number): number {
  return fromMs + step * STEP_MS;
}

export function dayAdvice(starts: readonly Start[], prospect: Times): readonly DayAdvice[] {
  const days: { localDay: number; stretches: Stretch[]; best: PlacedStart | null }[] = [];
  for (const [step, start] of starts.entries()) {
    const { localDay } = itemAt(prospect.localTimes, step);
    let day = days.at(-1);
    if (day?.localDay !== localDay) {
      day = { localDay, stretches: [], best: null };
      days.push(day);
    }
    const last = day.stretches.at(-1);
    const toMs = stepMs(prospect, step + 1);
    if (last?.grade === start.grade) {
      day.stretches[day.stretches.length - 1] = { ...last, toMs };
    } else {
      day.stretches.push({ fromMs: stepMs(prospect, step), toMs, grade: start.grade });
    }
    if (start.grade === "good" && (day.best === null || isBetter(start, day.best.start))) {
      day.best = { atMs: stepMs(prospect, step), start };
    }
  }
  return days;
}

/** Among good ones: surer, then less from the battery and from the loads; else the earlier. */
function isBetter(start: Start, best: Start): boolean {
  if (start.holdsInDoubt !== best.holdsInDoubt) return start.holdsInDoubt;
  return start.costWh < best.costWh - ALIKE_WH;
}

export function lightOf(
  starts: readonly Start[],
  { prospect, localDay }: { readonly prospect: Times; readonly localDay: number },
): Light {
  const placed = starts.map((start, step) => ({ start, atMs: stepMs(prospect, step) }));
  const today = placed.filter((_, step) => itemAt(prospect.localTimes, step).localDay === localDay);
  const good = placed.find(({ start }) => start.grade === "good");
  if (good === undefined) return withoutGood(today);
  if (good === placed[0]) return pointing("good-now", good, good.start.sunShare);
  if (today.includes(good)) return pointing("good-later", good, null);
  return { ...withoutGood(today), tomorrowAtMs: good.atMs };
}

function pointing(code: AdviceCode, to: PlacedStart, measured: number | null): Light {
  return { code, measured, limit: null, to, tomorrowAtMs: null };
}

/** On a day on which no start is good. */
function withoutGood(today: readonly PlacedStart[]): Light {
  const soSo = today.find(({ start }) => start.grade === "so-so");
  if (soSo !== undefined) {
    return soSo === today[0] ? soSoNow(soSo) : pointing("so-so-later", soSo, null);
  }
  const open = today.map(({ start }) => start).filter(({ grade }) => grade !== "closed");
  const [least] = open.toSorted((one, other) => one.middleMissing - other.middleMissing);
  if (least !== undefined) {
    const { middleMissing: measured, cautiousMissing: limit } = least;
    return { code: "costly", measured, limit, to: null, tomorrowAtMs: null };
  }
  const isCrowded = today.some(({ start }) => start.closedBy === "inverter");
  const code = isCrowded ? "no-room" : "hours-over";
  return { code, measured: null, limit: null, to: null, tomorrowAtMs: null };
}

function soSoNow(now: PlacedStart): Light {
  const { cautiousMissing, isCautiousBelow, sunShare } = now.start;
  if (cautiousMissing > 0) return pointing("so-so-unsure", now, cautiousMissing);
  return isCautiousBelow
    ? pointing("so-so-short", now, null)
    : pointing("so-so-battery", now, sunShare);
}
