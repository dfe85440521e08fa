/** A recorded morning with other settings: what the shed that recorded it would have done. */
import { cpSync, mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import { createLocalCalendar } from "../../config/local-calendar.ts";
import { loadSite } from "../../config/load.ts";
import { dayFileText, whatIf } from "../../service/cli/what-if-day.ts";
import { step } from "../../service/control/step.ts";
import { formatProblem, UserError } from "../../service/errors.ts";
import { localDayOf } from "../../service/local-days.ts";
import type { WhatIfProgress } from "../../service/what-if-contract.ts";
import { rowsOf } from "../../simulator/days/cut-series.ts";
import { readDayCsv } from "../../simulator/days/read-csv.ts";
import type { OutcomeReport } from "../../simulator/outcome.ts";
import { isThrottled } from "../../simulator/reconstruct/reconstruct-days.ts";
import { replay } from "../../simulator/replay.ts";
import { syntheticDay } from "../../simulator/weather/synthetic-day.ts";
import { releasedPast } from "../support/released-past.ts";

const RELEASE = "test/data/releases/0.1.0";
const DATE = "2025-06-12";
const LOCAL_DAY = localDayOf(DATE) ?? NaN;
const path = join(RELEASE, "site.yaml");
let folder = "";
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "bywash-what-if-"));
  cpSync(RELEASE, folder, { recursive: true });
});
afterAll(() => rmSync(folder, { recursive: true }));

interface Asked {
  readonly localDay?: number;
  readonly more?: readonly string[];
}

function asked(set: Readonly<Record<string, string>>, of: Asked = {}) {
  const stages: WhatIfProgress[] = [];
  const changes = Object.entries(set).map(([key, value]) => ({ key, value }));
  const { localDay = LOCAL_DAY, more = [] } = of;
  const overrides = [`history.folder=${folder}`, ...more];
  const order = { kind: "what-if", path, overrides, localDay, changes } as const;
  return { result: whatIf(order, (progress) => stages.push(progress)), stages };
}

function problemsOf(set: Readonly<Record<string, string>>, of: Asked = {}): string {
  try {
    asked(set, of);
  } catch (error) {
    if (error instanceof UserError) return error.problems.map(formatProblem).join("\n");
    throw error;
  }
  return "";
}

/** With the weather that the shed had and nobody recorded: of `test/data/releases/write.mjs`. */
function truthWith(set: Readonly<Record<string, string>>): OutcomeReport {
  const overrides = Object.entries(set).map(([key, value]) => `${key}=${value}`);
  const site = loadSite({ path, overrides });
  const day = syntheticDay({ site: loadSite({ path }), localDate: DATE, seed: 1, kind: "broken" });
  return replay({
    site,
    days: [rowsOf(day, 9 * 60, 12.5 * 60)],
    step,
    calendar: createLocalCalendar(site.timeZone),
    stepS: 30,
    startFraction: 0.95,
    mayBridge: false,
    plant: null,
    onDecision: null,
  });
}

test("as set it comes to what was recorded", async () => {
  const { result } = asked({ "ruleCurve.at": "90 %" });
  const day = await releasedPast().day(LOCAL_DAY);
  const { divertedWh = NaN, endSocFraction = NaN } = day?.figures ?? {};
  expect(divertedWh).toBeGreaterThan(8_000);
  expect(Math.abs(result.asSet.figures.divertedWh / divertedWh - 1)).toBeLessThan(0.03);
  expect(Math.abs(result.asSet.figures.endSocFraction - (endSocFraction ?? NaN))).toBeLessThan(
    0.01,
  );
  expect(result.asSet.minutes).toEqual(day?.minutes);
  expect(result.reconstructedFraction).toBeGreaterThan(0.05);
});

describe("with other settings it comes to what the shed would have done", () => {
  test.each([
    { set: { "ruleCurve.at": "96 %" }, isLess: true },
    { set: { "loads.water-heater.start.aboveRuleCurve": "4 %" }, isLess: true },
    { set: { "loads.spring-pump.quota.atMost": "8 h", "ruleCurve.at": "88 %" }, isLess: false },
    { set: { "battery.capacity": "800 Ah" }, isLess: true },
  ])("$set", ({ set, isLess }) => {
    const { result } = asked(set);
    const { asSet, changed, more } = result;
    const truth = truthWith(set).totals;
    expect(Math.abs(changed.figures.divertedWh / truth.divertedWh - 1)).toBeLessThan(0.05);
    expect(Math.abs(changed.figures.endSocFraction * 100 - truth.endSocPercent)).toBeLessThan(1.5);
    expect(changed.figures.divertedWh < asSet.figures.divertedWh).toBe(isLess);
    expect(more.divertedWh.likely).toBeCloseTo(
      changed.figures.divertedWh - asSet.figures.divertedWh,
      -1,
    );
    expect(more.divertedWh.low).toBeLessThanOrEqual(more.divertedWh.likely);
    expect(more.divertedWh.high).toBeGreaterThanOrEqual(more.divertedWh.likely);
  });
});

test("half the arrays: half of what they could give", () => {
  const { result } = asked({ "arrays.roof.peak": "3.3 kW" });
  const { asSet, changed, notes } = result;
  expect(changed.figures.potentialWh / asSet.figures.potentialWh).toBeCloseTo(0.5, 3);
  expect(changed.figures.divertedWh).toBeLessThan(asSet.figures.divertedWh);
  expect(notes).toContain("Arrays of another size are taken to give in proportion.");
});

test("columns and figures tell the same", () => {
  const { changed } = asked({ "ruleCurve.at": "90 %" }).result;
  const sumWh = (powerW: readonly number[]) => powerW.reduce((sum, w) => sum + w / 60, 0);
  for (const [id, { powerW }] of Object.entries(changed.loads)) {
    expect(sumWh(powerW)).toBeCloseTo(changed.energies[id]?.energyWh ?? NaN, -1);
  }
  expect(sumWh(changed.potentialW)).toBeCloseTo(changed.figures.potentialWh, -2);
  expect(changed.socFraction.at(-1)).toBe(changed.figures.endSocFraction);
  expect(new Set(changed.ruleCurveFraction)).toEqual(new Set([0.9]));
});

test("it begins with what the service had learned by then, and says so", () => {
  expect(asked({ "ruleCurve.at": "90 %" }).result.notes).toContain(
    "They begin with what the service had learned by then.",
  );
  rmSync(join(folder, "journal"), { recursive: true });
  expect(asked({ "ruleCurve.at": "90 %" }).result.notes).toContain(
    "What the service had learned by then is no longer in its journal: they begin without.",
  );
  cpSync(join(RELEASE, "journal"), join(folder, "journal"), { recursive: true });
});

test("how far it is rises to the end", () => {
  const shares = asked({ "ruleCurve.at": "90 %" }).stages.map(({ share }) => share);
  expect(shares).toEqual(shares.toSorted((a, b) => a - b));
  expect(shares.length).toBe(8);
});

describe("refused, as `replay --set` does", () => {
  test.each<[Record<string, string>, RegExp]>([
    [{ "loads.water-heater.start.aboveRuleCurv": "4 %" }, /did you mean aboveRuleCurve\?/u],
    [{ "loads.water-heate.minRun": "4 min" }, /did you mean water-heater\?/u],
    [{ "ruleCurve.at": "4 bananas" }, /4 bananas/u],
    [{ "ruleCurve.at": "[" }, /a value in YAML/u],
    [{ "web.port": "1" }, /\[what-if-key\][^]*web\.port/u],
    [{ "telemetry.battery.soc.topic": "x" }, /\[what-if-key\]/u],
    [{ "arrays.roof.tilt": "10 deg" }, /\[what-if-arrays\]/u],
  ])("%j", (set, wanted) => {
    expect(problemsOf(set)).toMatch(wanted);
  });

  test("a turbine in the wind, at the site or by the change, and why", () => {
    const turbine = "[{ id: mast, peak: 1 kW }]";
    const whole = /\[what-if-wind\]\s+key:\s+wind\.mast[^]*by the wind's speed[^]*wind_speed_m_s/u;
    expect(problemsOf({ wind: turbine })).toMatch(whole);
    const more = [`wind=${turbine}`];
    expect(problemsOf({ "ruleCurve.at": "90 %" }, { more })).toMatch(whole);
  });

  test("a day that was not recorded", () => {
    expect(problemsOf({ "ruleCurve.at": "90 %" }, { localDay: LOCAL_DAY + 1 })).toContain(
      "2025-06-13  [days-missing]",
    );
  });
});

test("as a day file it is read again, and says nowhere where the site is", () => {
  const text = dayFileText({ path, overrides: [`history.folder=${folder}`], localDay: LOCAL_DAY });
  const series = readDayCsv(text, "day.csv");
  expect(series.timesMs.length).toBe(210);
  expect(isThrottled(series)).toBe(true);
  expect(text).toMatch(/^2025-06-12T09:00:00\+02:00,/mu);
  expect(text).not.toMatch(/latitude|44\.2|6\.9\n/u);
});
