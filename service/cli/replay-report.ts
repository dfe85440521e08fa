/** What a replay amounted to, as text of at most 80 columns. */
import type { SiteSettings } from "../../config/site-settings.ts";
import type { OutcomeReport, Totals } from "../../simulator/outcome.ts";
import { unusedParts } from "../../simulator/report/unused-words.ts";
import type { Decision } from "../control/decision.ts";
import { explainVerdict } from "../control/explain.ts";
import type { Observation } from "../control/observation.ts";
import { hangingLines } from "../hanging-text.ts";

const DAY_MS = 86_400_000;

interface EventList {
  add(decision: Decision, observation: Observation): void;
  lines(): readonly string[];
}

/** Collects starts, stops and changes of stage of all loads, with their sentences. */
export function createEventList(site: SiteSettings): EventList {
  const lines: string[] = [];
  return {
    add(decision, observation) {
      for (const event of decision.events) {
        const verdict = decision.verdicts[event.index];
        const load = site.control.loads[event.index];
        if (event.about !== "load" || verdict === undefined || load === undefined) continue;
        if (!["started", "stopped", "stage"].includes(event.change)) continue;
        const stage = load.stagesW.length > 1 ? ` (stage ${String(verdict.stage)})` : "";
        const head = `${localTime(observation)}  ${load.id}${stage}: `;
        const sentence = explainVerdict(verdict, decision.site);
        lines.push(...hangingLines(head, sentence, INDENT));
      }
    },
    lines: () => lines,
  };
}

/** Where the continuation of an event begins: after date and time. */
const INDENT = 20;

function localTime({ localDay, localMinute }: Observation): string {
  const date = new Date(localDay * DAY_MS).toISOString().slice(0, 10);
  const hour = String(Math.floor(localMinute / 60)).padStart(2, "0");
  return `${date} ${hour}:${String(localMinute % 60).padStart(2, "0")}`;
}

export interface ReportInput {
  readonly report: OutcomeReport;
  readonly site: SiteSettings;
  readonly events: readonly string[];
  /** Names of the days that carry a place of their own. */
  readonly recordedElsewhere: readonly string[];
}

export function reportText(input: ReportInput): string {
  const { report, site } = input;
  const days = count(report.days, "day");
  return [
    ...hangingLines("", `${site.label}: ${days} in a simulated shed`, 2),
    ...input.recordedElsewhere.flatMap((name) =>
      hangingLines("", `${name}: sun and clock are those of its own place, not the site's`, 2),
    ),
    "",
    ...dayTable(report),
    "",
    ...loadTable(report),
    "",
    ...unusedLines(report),
    ...closingLines(report.totals),
    ...rangeLines(report),
    ...boundLines(report),
    ...(input.events.length === 0 ? [] : ["", ...input.events]),
  ].join("\n");
}

const DAY_HEADS = ["on offer", "unused", "diverted", "useful", "lowest", "at end", "reserve"];

function dayTable(report: OutcomeReport): readonly string[] {
  const rows = report.perDay.map((day) => [day.date, ...dayCells(day)]);
  if (report.perDay.length > 1) rows.push(["all", ...dayCells(report.totals)]);
  return table(["day", ...DAY_HEADS], rows);
}

function dayCells(totals: Totals): readonly string[] {
  return [
    energy(totals.potentialWh),
    energy(totals.curtailedWh),
    energy(totals.divertedWh),
    energy(totals.usefulDivertedWh),
    `${totals.minSocPercent.toFixed(1)} %`,
    `${totals.endSocPercent.toFixed(1)} %`,
    energy(totals.reserveDrawnWh),
  ];
}

function loadTable(report: OutcomeReport): readonly string[] {
  const heads = ["load", "energy", "useful", "starts", "shortest run", "shortest rest"];
  const rows = Object.entries(report.loads).map(([id, load]) => [
    id,
    energy(load.energyWh),
    energy(load.usefulWh),
    String(load.starts),
    duration(load.shortestRunS),
    duration(load.shortestRestS),
  ]);
  return table(heads, rows);
}

/** As wide as a year's worth in kWh. */
const ENERGY_WIDTH = 12;

/** Where something is to be gained: from more room to store, or from other thresholds. */
function unusedLines({ unused }: OutcomeReport): readonly string[] {
  const meaning = "unused: what the arrays could have given and nobody took.";
  const parts = unusedParts(unused);
  if (parts.length === 0) return [meaning];
  return [
    `${meaning} Of it:`,
    ...parts.map(({ energyWh, words }) => `${energy(energyWh).padStart(ENERGY_WIDTH)}  ${words}`),
  ];
}

/** What went wrong, in words; a figure of 0 is said too, for it is the point of the exercise. */
function closingLines(totals: Totals): readonly string[] {
  return [
    `reserve: what these loads drew from the battery below the rule curve.`,
    `Everyday use without power: ${energy(totals.unservedWh)}.`,
    `By these loads: ${count(totals.reserveDays, "day")} below the floor, ` +
      `${count(totals.sunsetMisses, "sunset")} under the target.`,
  ];
}

function boundLines({ totals, bound }: OutcomeReport): readonly string[] {
  if (bound === null) return [];
  const { boundShareFraction, regretWh } = totals;
  const share =
    boundShareFraction === null ? "" : `, ${(boundShareFraction * 100).toFixed(0)} % of the best`;
  return [
    `The best of all controllers, with foresight: ${energy(bound.usefulDivertedWh)} of use.`,
    `Here ${energy(totals.usefulDivertedWh)}${share}; missed: ${energy(regretWh ?? 0)}.`,
  ];
}

function rangeLines({ totals, range }: OutcomeReport): readonly string[] {
  if (range === null) return [];
  const between = (
    key: "potentialWh" | "divertedWh" | "usefulDivertedWh" | "curtailedWh",
  ): string => `${energy(range.low[key])} to ${energy(range.high[key])}`;
  const share = (100 * totals.reconstructedFraction).toFixed(0);
  return [
    "",
    `The arrays were held back: ${share} % of what is on offer here was inferred.`,
    "The range, for a low and a high guess of it:",
    `  on offer ${between("potentialWh")}, unused ${between("curtailedWh")}`,
    `  diverted ${between("divertedWh")}, useful ${between("usefulDivertedWh")}`,
  ];
}

function count(number: number, what: string): string {
  return `${String(number)} ${what}${number === 1 ? "" : "s"}`;
}

/** First column to the left, the others to the right; as narrow as its contents. */
function table(heads: readonly string[], rows: readonly (readonly string[])[]): readonly string[] {
  const widths = heads.map((head, c) =>
    Math.max(head.length, ...rows.map((row) => row[c]?.length ?? 0)),
  );
  return [heads, ...rows].map((row) =>
    row
      .map((cell, c) => (c === 0 ? cell.padEnd(widths[c] ?? 0) : cell.padStart(widths[c] ?? 0)))
      .join("  "),
  );
}

function energy(energyWh: number): string {
  return Math.abs(energyWh) < 1000
    ? `${energyWh.toFixed(0)} Wh`
    : `${(energyWh / 1000).toFixed(1)} kWh`;
}

function duration(seconds: number | null): string {
  if (seconds === null) return "-";
  return seconds < 60 ? `${String(seconds)} s` : `${String(Math.round(seconds / 60))} min`;
}
