/** A look back as text of at most 80 columns: the paragraph first, then the tables. */
import type { SiteSettings } from "../../config/site-settings.ts";
import { createLocalCalendar } from "../../config/local-calendar.ts";
import { hangingLines } from "../hanging-text.ts";
import { dayText } from "../local-days.ts";
import type { LookBack } from "../look-back/report-schema.ts";
import { countText, dayName, kilowattHours, percentText, spanText } from "../look-back/words.ts";

/** Reasons that are told; the JSON has all. */
const HELD_TOLD = 8;
const GAPS_TOLD = 10;

export function lookBackText(
  report: LookBack,
  { timeZone }: Pick<SiteSettings, "timeZone">,
): string {
  const { site, period } = report;
  const span = period.from === period.to ? "" : `, ${period.from} to ${period.to}`;
  const heading = hangingLines("", `${site.label}: ${period.kind} ${period.name}${span}`, 2);
  return [
    heading,
    hangingLines("", report.summary, 0),
    dayLines(report),
    loadLines(report),
    heldLines(report),
    alertLines(report, timeZone),
    gapLines(report, timeZone),
  ]
    .filter((lines) => lines.length > 0)
    .map((lines) => lines.join("\n"))
    .join("\n\n");
}

const WIDTHS = [14, 9, 7, 7, 7, 8, 8, 9, 7];

function columns(cells: readonly string[]): string {
  const [first = "", ...others] = cells;
  const rest = others.map((cell, index) => cell.padStart(WIDTHS[index + 1] ?? 0));
  return `${first.padEnd(WIDTHS[0] ?? 0)}${rest.join("")}`;
}

function dayLines({ days, totals, best, worst }: LookBack): readonly string[] {
  const rows = days.map((day) =>
    columns([
      dayName(day.date),
      whOrDash(day.potentialWh),
      kilowattHours(day.usedWh),
      whOrDash(day.thrownAwayWh),
      kilowattHours(day.divertedWh),
      marked(day.lowestSocFraction, day.isUnderFloor),
      marked(day.sunsetSocFraction, day.isUnderSunsetTarget),
      kilowattHours(day.reserveDrawnWh),
      String(day.starts),
    ]),
  );
  const sums = columns([
    "all",
    whOrDash(totals.potentialWh),
    kilowattHours(totals.usedWh),
    whOrDash(totals.thrownAwayWh),
    kilowattHours(totals.divertedWh),
    totals.lowestSocFraction === null ? "-" : percentText(totals.lowestSocFraction),
    "",
    kilowattHours(totals.reserveDrawnWh),
    String(totals.starts),
  ]);
  const isMarked = days.some(
    ({ isUnderFloor, isUnderSunsetTarget }) => isUnderFloor || isUnderSunsetTarget,
  );
  const comparison =
    best === null || worst === null
      ? []
      : [`Best day: ${dayName(best)}, worst: ${dayName(worst)} (by the share that was used)`];
  return [
    columns([
      "kWh",
      "on offer",
      "used",
      "thrown",
      "loads",
      "lowest",
      "sunset",
      "reserve",
      "starts",
    ]),
    ...rows,
    ...(days.length > 1 ? [sums] : []),
    ...(isMarked ? ["<: under the floor, or under the target at sunset"] : []),
    ...comparison,
  ].map((line) => line.trimEnd());
}

function whOrDash(energyWh: number | null): string {
  return energyWh === null ? "-" : kilowattHours(energyWh);
}

function marked(fraction: number | null, isUnder: boolean): string {
  if (fraction === null) return "-";
  return `${isUnder ? "<" : ""}${percentText(fraction)}`;
}

function loadLines({ totals }: LookBack): readonly string[] {
  const entries = Object.entries(totals.loads);
  const width = Math.max(...entries.map(([id]) => id.length), 0) + 2;
  return entries.map(
    ([id, { energyWh, starts }]) =>
      `${id.padEnd(width)}${kilowattHours(energyWh).padStart(7)} kWh in ` +
      countText(starts, "start", "starts"),
  );
}

function heldLines({ held }: LookBack): readonly string[] {
  if (held.length === 0) return [];
  const told = held.slice(0, HELD_TOLD);
  const lines = told.flatMap(({ load, code, sentence, minutes, heldBackMinutes }) => {
    const while_ =
      heldBackMinutes === 0
        ? ""
        : `, ${spanText(heldBackMinutes)} of it while power was thrown away`;
    const words = code.replaceAll("-", " ");
    const last = sentence === null ? "" : ` (last: ${sentence})`;
    return hangingLines("", `${load}, ${words}: ${spanText(minutes)}${while_}${last}`, 2);
  });
  const more = held.length - told.length;
  const rest = more > 0 ? [`and ${countText(more, "further reason", "further reasons")}`] : [];
  return ["What kept loads off, by what it cost", ...lines, ...rest];
}

function alertLines({ alerts }: LookBack, timeZone: string): readonly string[] {
  if (alerts.length === 0) return [];
  const lines = alerts.flatMap(({ about, id, code, count, firstAt }) => {
    const owner = about === "site" ? "the site" : id;
    const often = count === 1 ? "once" : countText(count, "time", "times");
    const first = `first ${localText(firstAt, timeZone)}`;
    return hangingLines("", `${owner}, ${code.replaceAll("-", " ")}: ${often}, ${first}`, 2);
  });
  return ["Alarms", ...lines];
}

function gapLines({ gaps }: LookBack, timeZone: string): readonly string[] {
  if (gaps.length === 0) return [];
  const told = gaps.slice(0, GAPS_TOLD).map(({ from, to, minutes }) => {
    const stretch = `${localText(from, timeZone)} to ${localText(to, timeZone)}`;
    return `${stretch}: ${spanText(minutes)}`;
  });
  const more = gaps.length - told.length;
  const rest = more > 0 ? [`and ${countText(more, "further gap", "further gaps")}`] : [];
  return ["Nothing recorded: the service did not run, or could not write", ...told, ...rest];
}

const MINUTES_PER_HOUR = 60;

/** Local date and clock time at the site. */
function localText(instant: string, timeZone: string): string {
  const { localDay, localMinute } = createLocalCalendar(timeZone)(Date.parse(instant));
  const two = (number: number): string => String(number).padStart(2, "0");
  const hour = Math.floor(localMinute / MINUTES_PER_HOUR);
  return `${dayText(localDay)} ${two(hour)}:${two(localMinute % MINUTES_PER_HOUR)}`;
}
