import { expect, test } from "vitest";
import { loadSite } from "../../config/load.ts";
import { createLocalCalendar } from "../../config/local-calendar.ts";
import { step } from "../../service/control/step.ts";
import { replay } from "../../simulator/replay.ts";
import { reportPage } from "../../simulator/report/report-page.ts";
import { createRibbonRecorder } from "../../simulator/report/ribbon-record.ts";
import type { RibbonDay } from "../../simulator/report/ribbon-record.ts";
import type { OutcomeReport } from "../../simulator/outcome.ts";
import { syntheticDay } from "../../simulator/weather/synthetic-day.ts";

const MALGA = new URL("../../config/examples/malga.yaml", import.meta.url).pathname;
const site = { ...loadSite({ path: MALGA }), label: `Malga <script>alert("&")</script>` };

function recorded(dates: readonly string[]): {
  readonly report: OutcomeReport;
  readonly days: readonly RibbonDay[];
} {
  const ribbons = createRibbonRecorder(site);
  const report = replay({
    site,
    days: dates.map((localDate, seed) => syntheticDay({ site, localDate, seed, kind: "broken" })),
    step,
    calendar: createLocalCalendar(site.timeZone),
    stepS: 60,
    startFraction: 0.85,
    mayBridge: false,
    plant: null,
    onDecision: null,
    onStep: ribbons.add,
  });
  return { report, days: ribbons.days() };
}

const both = recorded(["2025-06-12", "2025-06-13"]);
const page = reportPage({ site, ...both });

/** Energy of a series of ten-minute means. [Wh] */
function energyWh(powerW: Float64Array): number {
  return powerW.reduce((sum, value) => sum + (Number.isNaN(value) ? 0 : value / 6), 0);
}

test("the ribbon's areas hold the energies of the report", () => {
  for (const [index, day] of both.days.entries()) {
    const totals = both.report.perDay[index];
    if (totals === undefined) throw new Error("every ribbon has its day");
    expect(energyWh(day.potentialW)).toBeCloseTo(totals.potentialWh, -1);
    expect(energyWh(day.unusedW)).toBeCloseTo(totals.curtailedWh, -1);
    const loadsWh = day.loadsW.reduce((sum, powerW) => sum + energyWh(powerW), 0);
    expect(loadsWh).toBeCloseTo(totals.divertedWh, -1);
    expect(day.starts).toHaveLength(totals.starts);
  }
  expect(both.report.totals.starts).toBeGreaterThan(0);
});

test("one page that asks for nothing: no script, no address, every anchor has its place", () => {
  expect(page).not.toMatch(/<script|<link|<img|@import|https?:|url\((?!#)/u);
  const anchors = [...page.matchAll(/href="#([^"]+)"/gu)].map((match) => match[1]);
  expect(anchors.length).toBeGreaterThanOrEqual(3);
  for (const anchor of anchors) expect(page).toContain(`id="${anchor ?? ""}"`);
});

test("what people have written stands in it as text", () => {
  expect(page).toContain("Malga &lt;script&gt;alert(&quot;&amp;&quot;)&lt;/script&gt;");
});

test("every day is said in words too, and can be reached by keyboard", () => {
  for (const { date } of both.days) {
    expect(page).toMatch(new RegExp(`<figure id="day-${date}" tabindex="0"`, "u"));
    expect(page).toMatch(new RegExp(`${date}: .*on offer.*Starts: `, "u"));
  }
});

test("no number in the pictures is unknown", () => {
  expect(page).not.toMatch(/NaN|Infinity|undefined/u);
});

test("hours that the record does not have stay empty", () => {
  const { days } = recorded(["2025-03-30"]);
  const [day] = days;
  // The clocks go forward from 02:00 to 03:00.
  const unknown = [...(day?.potentialW ?? [])].filter((powerW) => Number.isNaN(powerW));
  expect(unknown).toHaveLength(6);
  expect(reportPage({ site, ...recorded(["2025-03-30"]) })).not.toMatch(/NaN/u);
});
