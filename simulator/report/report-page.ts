/**
 * A replay's result as one HTML page that needs nothing else: no script, no font, no address. It
 * prints, follows the reader's light or dark, and says in words and tables all that it draws.
 */
import type { SiteSettings } from "../../config/site-settings.ts";
import type { DayTotals, OutcomeReport, Totals } from "../outcome.ts";
import { escaped } from "./escape.ts";
import { PAGE_STYLE } from "./page-style.ts";
import { clock, loadClass, ribbonSvg } from "./ribbon.ts";
import type { RibbonFrame } from "./ribbon.ts";
import type { RibbonDay } from "./ribbon-record.ts";
import { unusedParts } from "./unused-words.ts";

export interface ReportPageInput {
  readonly site: SiteSettings;
  readonly report: OutcomeReport;
  readonly days: readonly RibbonDay[];
}

export function reportPage({ site, report, days }: ReportPageInput): string {
  const frame = frameOf(site, days);
  const label = escaped(site.label);
  const count = `${String(report.days)} ${report.days === 1 ? "day" : "days"}`;
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<title>${label}: ${count} replayed</title>
<style>${PAGE_STYLE}</style>
</head>
<body>
${HATCH}
<a class="skip" href="#days">Skip to the days</a>
<header>
<h1>${label}</h1>
<p>${count} replayed in a simulated shed with these settings. Nothing here was switched.</p>
</header>
<main>
${summary(report)}
${whyUnused(report)}
<section aria-labelledby="loads-head">
<h2 id="loads-head">Loads</h2>
${loadTable(site, report)}
</section>
<section id="days" aria-labelledby="days-head">
<h2 id="days-head">Days</h2>
${dayTable(report)}
${legend(frame)}
${days.map((day, index) => dayFigure(day, report.perDay[index], frame)).join("\n")}
</section>
</main>
</body>
</html>
`;
}

/** Power and charge have one scale for all days, so that days can be compared. */
function frameOf({ control }: SiteSettings, days: readonly RibbonDay[]): RibbonFrame {
  let powerMaxW = 500;
  let socMin = control.battery.floorFraction;
  for (const day of days) {
    for (const [slot, potentialW] of day.potentialW.entries()) {
      const loadsW = day.loadsW.reduce((sum, values) => sum + (values[slot] ?? 0), 0);
      powerMaxW = Math.max(powerMaxW, potentialW || 0, (day.baseW[slot] ?? 0) + loadsW || 0);
    }
    for (const fraction of day.socFraction) socMin = Math.min(socMin, fraction || 1);
  }
  return {
    loadLabels: control.loads.map(({ label }) => label),
    powerMaxW: Math.ceil(powerMaxW / 250) * 250,
    floorFraction: control.battery.floorFraction,
    socMinFraction: Math.max(0, Math.floor(socMin * 10 - 0.5) / 10),
  };
}

function summary({ totals, bound, range }: OutcomeReport): string {
  const used = totals.potentialWh - totals.curtailedWh;
  const share = totals.potentialWh > 0 ? (100 * used) / totals.potentialWh : 0;
  const figures: readonly (readonly [string, string])[] = [
    ["sources could have given", energy(totals.potentialWh)],
    [`used, ${share.toFixed(0)} % of it`, energy(used)],
    ["thrown away", energy(totals.curtailedWh)],
    ["taken by opportunity loads", energy(totals.divertedWh)],
    ["useful part of that", energy(totals.usefulDivertedWh)],
    ["drawn from the reserve by them", energy(totals.reserveDrawnWh)],
    ["lowest charge", percent(totals.minSocPercent)],
    ["sunsets under the target", String(totals.sunsetMisses)],
    ["everyday use without power", energy(totals.unservedWh)],
    ...(range === null
      ? []
      : [
          ["of what was on offer: inferred", percent(100 * totals.reconstructedFraction)] as const,
          [
            "useful part, low and high guess",
            `${energy(range.low.usefulDivertedWh)} to ${energy(range.high.usefulDivertedWh)}`,
          ] as const,
        ]),
    ...(bound === null
      ? []
      : [
          ["useful at the best, with foresight", energy(bound.usefulDivertedWh)] as const,
          ["of it reached here", percent(100 * (totals.boundShareFraction ?? 0))] as const,
        ]),
  ];
  const entries = figures.map(([name, value]) => `<div><dt>${name}</dt><dd>${value}</dd></div>`);
  return `<dl class="summary">${entries.join("\n")}</dl>`;
}

/** Where something is to be gained: from more room to store, or from other thresholds. */
function whyUnused({ unused }: OutcomeReport): string {
  const parts = unusedParts(unused);
  if (parts.length === 0) return "";
  const rows = parts.map(({ energyWh, words }) => row(words, [energy(energyWh)]));
  return `<section aria-labelledby="unused-head">
<h2 id="unused-head">What was thrown away</h2>
${table(["power that nobody took", "energy"], rows)}
</section>`;
}

function loadTable(site: SiteSettings, report: OutcomeReport): string {
  const rows = site.control.loads.map(({ id, label }, index) => {
    const figures = report.loads[id];
    const cells = [
      energy(figures?.energyWh ?? 0),
      energy(figures?.usefulWh ?? 0),
      String(figures?.starts ?? 0),
      duration(figures?.shortestRunS ?? null),
      duration(figures?.shortestRestS ?? null),
    ];
    const key = `<span class="key ${loadClass(index)}"></span>`;
    return row(`${key}${escaped(label)}`, cells);
  });
  return table(["load", "energy", "useful", "starts", "shortest run", "shortest rest"], rows);
}

const DAY_HEADS = [
  ...["day", "on offer", "thrown away", "to loads", "useful"],
  ...["lowest charge", "at end", "reserve", "starts"],
];

function dayTable(report: OutcomeReport): string {
  const rows = report.perDay.map((day) =>
    row(`<a href="#day-${day.date}">${day.date}</a>`, dayCells(day)),
  );
  if (report.perDay.length > 1) rows.push(row("all", dayCells(report.totals)));
  return table(DAY_HEADS, rows);
}

function dayCells(totals: Totals): readonly string[] {
  return [
    energy(totals.potentialWh),
    energy(totals.curtailedWh),
    energy(totals.divertedWh),
    energy(totals.usefulDivertedWh),
    percent(totals.minSocPercent),
    percent(totals.endSocPercent),
    energy(totals.reserveDrawnWh),
    String(totals.starts),
  ];
}

function table(heads: readonly string[], rows: readonly string[]): string {
  const head = heads.map((text) => `<th scope="col">${text}</th>`).join("");
  return `<div class="wide" tabindex="0" role="region" aria-label="table by ${heads[0] ?? ""}">
<table><thead><tr>${head}</tr></thead>
<tbody>${rows.join("\n")}</tbody></table></div>`;
}

function row(head: string, cells: readonly string[]): string {
  const data = cells.map((cell) => `<td>${cell}</td>`).join("");
  return `<tr><th scope="row">${head}</th>${data}</tr>`;
}

function legend(frame: RibbonFrame): string {
  const loads = frame.loadLabels.map((label, index) => [loadClass(index), escaped(label)] as const);
  const names: readonly (readonly [string, string])[] = [
    ["base", "everyday use"],
    ...loads,
    ["charge", "into the battery"],
    ["unused", "thrown away"],
    ["potential", "on offer"],
    ["soc", "state of charge"],
    ["curve", "rule curve"],
    ["floor", "floor"],
    ["start load-0", "a load starts"],
  ];
  const entries = names.map(([className, name]) => {
    const swatch = `<path class="${className}" d="${swatchShape(className)}"/>`;
    return `<li><svg viewBox="0 0 24 12" aria-hidden="true">${swatch}</svg>${name}</li>`;
  });
  return `<ul class="legend">${entries.join("")}</ul>`;
}

function swatchShape(className: string): string {
  if (className.startsWith("start")) return "M7 1H17L12 11Z";
  return LINES.has(className) ? "M1 6H23" : "M1 1H23V11H1Z";
}

const LINES: ReadonlySet<string> = new Set(["potential", "soc", "curve", "floor"]);

function dayFigure(day: RibbonDay, totals: DayTotals | undefined, frame: RibbonFrame): string {
  const id = `day-${day.date}`;
  const starts = day.starts.map(
    ({ loadIndex, minute }) => `${frame.loadLabels[loadIndex] ?? ""} ${clock(minute)}`,
  );
  const startText = starts.length === 0 ? "Nothing started." : `Starts: ${starts.join(", ")}.`;
  const said =
    totals === undefined
      ? ""
      : `${energy(totals.potentialWh)} on offer, ${energy(totals.divertedWh)} went to ` +
        `loads, ${energy(totals.curtailedWh)} was thrown away; charge at its lowest ` +
        `${percent(totals.minSocPercent)}, at the end ${percent(totals.endSocPercent)}.`;
  return `<figure id="${id}" tabindex="0" aria-labelledby="${id}-said">
<h3>${day.date}</h3>
${ribbonSvg(day, frame)}
<figcaption id="${id}-said">${day.date}: ${said} ${escaped(startText)}</figcaption>
</figure>`;
}

/** Outside the pictures, so that each of them can use it. */
const HATCH = `<svg class="defs" width="0" height="0" aria-hidden="true"><defs>
<pattern id="hatch" width="6" height="6" patternUnits="userSpaceOnUse"
patternTransform="rotate(45)">
<path class="hatch-line" d="M0 0V6"/></pattern></defs></svg>`;

function energy(energyWh: number): string {
  return Math.abs(energyWh) < 1000
    ? `${energyWh.toFixed(0)} Wh`
    : `${(energyWh / 1000).toFixed(1)} kWh`;
}

function percent(value: number): string {
  return `${value.toFixed(0)} %`;
}

function duration(seconds: number | null): string {
  if (seconds === null) return "-";
  return seconds < 60 ? `${String(seconds)} s` : `${String(Math.round(seconds / 60))} min`;
}
