/**
 * What a week or a day came to, out of the history. The figures of each day are those that the page
 * of days shows; floor and target are those of the present settings.
 */
import { createLocalCalendar } from "../../config/local-calendar.ts";
import type { SiteSettings } from "../../config/site-settings.ts";
import { codeEntry } from "../control/events.ts";
import { explainCode } from "../control/explain.ts";
import { SITE_CODES } from "../control/site-codes.ts";
import { VERDICT_CODES } from "../control/verdict-codes.ts";
import type { DayFigures } from "../history/reading/day-figures.ts";
import { dayTable } from "../history/reading/day-table.ts";
import { readEvents } from "../history/reading/events.ts";
import { readMinutes } from "../history/reading/minutes.ts";
import { answer } from "../history/reading/questions.ts";
import type { Reader } from "../history/reading/reader.ts";
import { readVerdictTimes } from "../history/reading/verdict-times.ts";
import type { VerdictTime } from "../history/reading/verdict-times.ts";
import { dayStretch, dayText } from "../local-days.ts";
import type { DayStretch } from "../local-days.ts";
import { timestamp } from "../timestamp.ts";
import type { LookBack } from "./report-schema.ts";
import { summaryOf } from "./summary.ts";

export interface Period {
  readonly kind: "week" | "day";
  /** Such as `2026-W10`, or a date. */
  readonly name: string;
  readonly fromDay: number;
  /** Included. */
  readonly toDay: number;
}

type Day = LookBack["days"][number];

const MINUTE_MS = 60_000;
/** A missing minute here and there is a slow disk or a restart; more is told. [min] */
const GAP_MIN = 3;
const WHOLE_FRACTION = 0.99;
/** A day of which less was recorded is neither the best nor the worst. */
const COMPARED_FRACTION = 0.9;

/** @returns null: nothing of it was recorded. @throws Error of the database */
export function lookBack(
  reader: Reader,
  site: SiteSettings,
  { period, nowMs }: { readonly period: Period; readonly nowMs: number },
): LookBack | null {
  const calendar = createLocalCalendar(site.timeZone);
  const count = period.toDay - period.fromDay + 1;
  const stretches = Array.from({ length: count }, (_, index) =>
    dayStretch(period.fromDay + index, calendar),
  );
  const { sources } = site.control;
  const asked = answer(reader, { kind: "figures", days: stretches, sources });
  const figures = asked.kind === "figures" ? asked.figures : [];
  const days = stretches.flatMap((stretch, index) => {
    const own = figures[index] ?? null;
    return own === null ? [] : [dayOf(own, { stretch, site, nowMs })];
  });
  if (days.length === 0) return null;
  const lengthsMin = stretches.map(({ fromMs, toMs }) => (toMs - fromMs) / MINUTE_MS);
  const covered = weighted(stretches, lengthsMin, days);
  const isOver = nowMs >= (stretches.at(-1)?.toMs ?? 0);
  const minutes = stretches.map((stretch) => readMinutes(reader, stretch));
  const [worst, best] = extremes(days);
  const { battery } = site.control;
  const report: Omit<LookBack, "summary"> = {
    formatVersion: 1,
    site: { id: site.id, label: site.label, timeZone: site.timeZone },
    period: {
      kind: period.kind,
      name: period.name,
      from: dayText(period.fromDay),
      to: dayText(period.toDay),
      isOver,
      isWhole: isOver && covered >= WHOLE_FRACTION,
    },
    targets: {
      floorFraction: battery.floorFraction,
      sunsetTargetFraction: battery.sunsetTargetFraction,
    },
    totals: totalsOf(days, covered),
    best,
    worst,
    days,
    held: heldOf(minutes.flatMap((one) => readVerdictTimes(reader, dayTable(one, sources)))),
    alerts: alertsOf(reader, site, stretches),
    gaps: gapsOf(
      minutes.flatMap((one) => one.minutes),
      stretches,
      nowMs,
    ),
  };
  return { ...report, summary: summaryOf(report) };
}

function dayOf(
  figures: DayFigures,
  { stretch, site, nowMs }: { stretch: DayStretch; site: SiteSettings; nowMs: number },
): Day {
  const { floorFraction, sunsetTargetFraction } = site.control.battery;
  const { lowestSocFraction: lowest, sunsetSocFraction: sunset } = figures;
  return {
    date: dayText(stretch.localDay),
    isOver: nowMs >= stretch.toMs,
    lowestSocFraction: lowest,
    isUnderFloor: lowest !== null && lowest < floorFraction,
    sunsetSocFraction: sunset,
    isUnderSunsetTarget: sunset !== null && sunset < sunsetTargetFraction,
    coveredFraction: figures.coveredFraction,
    potentialWh: figures.potentialWh,
    usedWh: figures.sourcesWh,
    thrownAwayWh: figures.curtailedWh,
    divertedWh: figures.divertedWh,
    askedWh: figures.askedWh,
    everydayWh: figures.baseWh,
    reserveDrawnWh: figures.reserveDrawnWh,
    generatorWh: figures.generatorWh,
    starts: figures.starts,
    loads: Object.fromEntries(
      Object.entries(figures.loads).map(([id, { energyWh, starts }]) => [id, { energyWh, starts }]),
    ),
  };
}

/** Of the whole period: days without any record count as what they are. */
function weighted(
  stretches: readonly DayStretch[],
  lengthsMin: readonly number[],
  days: readonly Day[],
): number {
  let recordedMin = 0;
  let allMin = 0;
  for (const [index, { localDay }] of stretches.entries()) {
    const lengthMin = lengthsMin[index] ?? 0;
    const day = days.find(({ date }) => date === dayText(localDay));
    recordedMin += lengthMin * (day?.coveredFraction ?? 0);
    allMin += lengthMin;
  }
  return Number((recordedMin / allMin).toFixed(4));
}

function totalsOf(days: readonly Day[], coveredFraction: number): LookBack["totals"] {
  const sum = (pick: (day: Day) => number | null): number =>
    Number(days.reduce((total, day) => total + (pick(day) ?? 0), 0).toFixed(1));
  const known = days.filter(({ potentialWh }) => potentialWh !== null);
  const lowest = days.flatMap(({ lowestSocFraction }) => lowestSocFraction ?? []);
  return {
    coveredFraction,
    potentialWh: known.length === 0 ? null : sum(({ potentialWh }) => potentialWh),
    usedWh: sum(({ usedWh }) => usedWh),
    thrownAwayWh: known.length === 0 ? null : sum(({ thrownAwayWh }) => thrownAwayWh),
    divertedWh: sum(({ divertedWh }) => divertedWh),
    askedWh: sum(({ askedWh }) => askedWh),
    everydayWh: sum(({ everydayWh }) => everydayWh),
    reserveDrawnWh: sum(({ reserveDrawnWh }) => reserveDrawnWh),
    generatorWh: sum(({ generatorWh }) => generatorWh),
    starts: sum(({ starts }) => starts),
    loads: loadSums(days),
    daysWithoutPotential: days.length - known.length,
    lowestSocFraction: lowest.length === 0 ? null : Math.min(...lowest),
    sunsetMisses: days.filter(({ isUnderSunsetTarget }) => isUnderSunsetTarget).length,
  };
}

function loadSums(days: readonly Day[]): LookBack["totals"]["loads"] {
  const sums: Record<string, { energyWh: number; starts: number }> = {};
  for (const { loads } of days) {
    for (const [id, { energyWh, starts }] of Object.entries(loads)) {
      const before = sums[id] ?? { energyWh: 0, starts: 0 };
      const energy = Number((before.energyWh + energyWh).toFixed(1));
      sums[id] = { energyWh: energy, starts: before.starts + starts };
    }
  }
  return sums;
}

/** The days that used the least and the greatest share of what there was; null: none did. */
function extremes(days: readonly Day[]): readonly [worst: string | null, best: string | null] {
  const share = ({ usedWh, potentialWh }: Day): number => usedWh / (potentialWh ?? 1);
  const compared = days
    .filter(
      ({ isOver, coveredFraction, potentialWh }) =>
        isOver && coveredFraction >= COMPARED_FRACTION && potentialWh !== null && potentialWh > 0,
    )
    .toSorted((one, other) => share(one) - share(other));
  const [worst, best] = [compared[0], compared.at(-1)];
  if (worst === undefined || best === undefined || share(worst) === share(best)) {
    return [null, null];
  }
  return [worst.date, best.date];
}

function heldOf(times: readonly VerdictTime[]): LookBack["held"] {
  const sums = new Map<string, VerdictTime>();
  for (const time of times) {
    const key = `${time.load} ${time.code}`;
    const before = sums.get(key);
    sums.set(key, {
      ...time,
      minutes: time.minutes + (before?.minutes ?? 0),
      heldBackMinutes: time.heldBackMinutes + (before?.heldBackMinutes ?? 0),
    });
  }
  return [...sums.values()]
    .toSorted((a, b) => b.heldBackMinutes - a.heldBackMinutes || b.minutes - a.minutes)
    .map((time) => ({
      load: time.load,
      code: time.code,
      sentence: sentenceOf(time),
      minutes: time.minutes,
      heldBackMinutes: time.heldBackMinutes,
    }));
}

function sentenceOf({ code, measured, limit }: VerdictTime): string | null {
  if (!isVerdictCode(code)) return null;
  const entry = codeEntry(code);
  const lacks = (kind: unknown, number: number | null): boolean => kind !== null && number === null;
  const isTold =
    !entry.sentence.includes("{remaining}") &&
    !lacks(entry.measured, measured) &&
    !lacks(entry.limit, limit);
  return isTold ? explainCode(entry, { measured, limit }) : null;
}

function isVerdictCode(code: string): code is keyof typeof VERDICT_CODES {
  return Object.hasOwn(VERDICT_CODES, code);
}

const EVENTS_MAX = 100_000;

/** Each once, with how often it was raised; the most frequent first. */
function alertsOf(
  reader: Reader,
  { id: siteId }: SiteSettings,
  stretches: readonly DayStretch[],
): LookBack["alerts"] {
  const codes = Object.entries({ ...SITE_CODES, ...VERDICT_CODES })
    .filter(([, { severity }]) => severity === "alarm")
    .map(([code]) => code);
  const any = { load: null, text: null, textCodes: [], before: null, limit: EVENTS_MAX };
  const events = readEvents(reader, {
    ...any,
    codes,
    fromMs: stretches[0]?.fromMs ?? null,
    toMs: stretches.at(-1)?.toMs ?? null,
  });
  const alerts = new Map<string, LookBack["alerts"][number]>();
  // The newest come first: what is written last is the first of its kind.
  for (const { about, owner, code, change, atMs } of events) {
    if (change !== "raised") continue;
    const id = about === "site" ? siteId : owner;
    const key = `${about} ${id} ${code}`;
    const count = (alerts.get(key)?.count ?? 0) + 1;
    alerts.set(key, { about, id, code, count, firstAt: timestamp(atMs) });
  }
  return [...alerts.values()].toSorted((one, other) => other.count - one.count);
}

/** Up to now, where the period is not over. */
function gapsOf(
  minutes: readonly number[],
  stretches: readonly DayStretch[],
  nowMs: number,
): LookBack["gaps"] {
  const fromMinute = Math.ceil((stretches[0]?.fromMs ?? 0) / MINUTE_MS);
  const endMinute = Math.floor(Math.min(stretches.at(-1)?.toMs ?? 0, nowMs) / MINUTE_MS);
  const gaps: LookBack["gaps"] = [];
  let expected = fromMinute;
  for (const minute of [...minutes, endMinute]) {
    const missing = minute - expected;
    if (missing >= GAP_MIN) {
      const [from, to] = [timestamp(expected * MINUTE_MS), timestamp(minute * MINUTE_MS)];
      gaps.push({ from, to, minutes: missing });
    }
    expected = minute + 1;
  }
  return gaps;
}
