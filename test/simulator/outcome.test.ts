import { beforeEach, describe, expect, test } from "vitest";
import type { SiteSettings } from "../../config/site-settings.ts";
import type { Decision } from "../../service/control/decision.ts";
import { initialMemory } from "../../service/control/memory.ts";
import { step } from "../../service/control/step.ts";
import { createObserver } from "../../simulator/observe.ts";
import { createOutcome } from "../../simulator/outcome.ts";
import type { Outcome } from "../../simulator/outcome.ts";
import { plantSettings } from "../../simulator/plant/plant-settings.ts";
import { createTruth } from "../../simulator/plant/plant-truth.ts";
import type { PlantTruth } from "../../simulator/plant/plant-truth.ts";
import { roundFigure } from "../../simulator/rounding.ts";
import { simulatedSite } from "./simulated-site.ts";

const NOON_MS = Date.parse("2025-06-12T10:00:00Z");
const DAY = Math.floor(NOON_MS / 86_400_000);
const PLACE = { latitudeDeg: 44.2, longitudeDeg: 6.9 };

let site: SiteSettings;
let truth: PlantTruth;
let outcome: Outcome;
let decision: Decision;
let inferredFraction: number;
let reference: { socFraction: number; absorptionsCompleted: number } | null;

beforeEach(() => {
  site = simulatedSite();
  const settings = plantSettings(site);
  truth = createTruth(settings);
  truth.socFraction = 0.95;
  outcome = createOutcome(site, settings, PLACE);
  decision = decided(0.94);
  reference = null;
  inferredFraction = 0;
});

/** A real decision with its rule curve and stages set. */
function decided(ruleCurveFraction: number): Decision {
  const at = {
    monotonicMs: 0,
    wallMs: NOON_MS,
    localDay: DAY,
    localMinute: 720,
    clockChangeMs: 0,
    clockShiftMin: 0,
  };
  const tick = step(initialMemory(site.control, 0), createObserver(site, truth)(at), site.control);
  return { ...tick.decision, site: { ...tick.decision.site, ruleCurveFraction } };
}

function add(seconds: number, stages: readonly number[] = [0, 0], minute = 720, day = DAY): void {
  const wallMs = NOON_MS + (minute - 720) * 60_000 + (day - DAY) * 86_400_000;
  outcome.add({
    dtS: seconds,
    wallMs,
    localDay: day,
    localMinute: minute,
    truth,
    decision: { ...decision, loadStages: stages },
    reference,
    inferredFraction,
  });
}

test("keys and their order are those of the interface", () => {
  add(60);
  const report = outcome.report();
  expect(Object.keys(report)).toEqual([
    ...[
      "formatVersion",
      "days",
      "plant",
      "settings",
      "totals",
      "loads",
      "bound",
      "range",
      "unused",
      "perDay",
    ],
  ]);
  const totals = [
    ...["divertedWh", "usefulDivertedWh", "curtailedWh", "potentialWh", "baseLoadWh"],
    ...["unservedWh", "batteryThroughputWh", "minSocPercent", "endSocPercent", "generatorWh"],
    ...["reserveDrawnWh", "reserveDays", "sunsetMisses", "absorptionMisses", "starts"],
    ...["reconstructedFraction", "boundShareFraction", "regretWh"],
  ];
  expect(Object.keys(report.totals)).toEqual(totals);
  expect(Object.keys(report.perDay[0] ?? {})).toEqual(["date", ...totals]);
  expect(Object.keys(report.loads)).toEqual(["water-heater", "spring-pump"]);
  expect(report.perDay[0]?.date).toBe("2025-06-12");
});

test("hand-worked energies of half an hour", () => {
  truth.potentialW = 5000;
  truth.deliveredW = 3000;
  truth.baseAcW = 400;
  truth.unservedW = 100;
  truth.batteryPowerW = -200;
  truth.loadPowerW.set([1000, 750]);
  truth.loadUsefulW.set([600, 750]);
  add(1800, [1, 1]);
  expect(outcome.report().totals).toMatchObject({
    potentialWh: 2500,
    curtailedWh: 1000,
    baseLoadWh: 200,
    unservedWh: 50,
    batteryThroughputWh: 100,
    divertedWh: 875,
    usefulDivertedWh: 675,
    minSocPercent: 95,
    endSocPercent: 95,
    starts: 2,
  });
});

describe("reserve drawn: discharge by opportunity loads below the rule curve less stop margin", () => {
  beforeEach(() => {
    truth.loadPowerW.set([1000, 0]);
    truth.opportunityDcW = 1100;
    truth.batteryPowerW = -400;
  });

  const drawn = (): number => {
    add(3600, [1, 0]);
    return outcome.report().totals.reserveDrawnWh;
  };

  test("nothing at the stop mark itself", () => {
    truth.socFraction = 0.94 - 0.02;
    expect(drawn()).toBe(0);
  });

  test("below it the smaller of discharge and the loads' own power", () => {
    truth.socFraction = 0.9199;
    expect(drawn()).toBe(400);
  });

  test("everyday use is nobody's fault: no more than the loads' own power", () => {
    truth.socFraction = 0.9;
    truth.batteryPowerW = -5000;
    expect(drawn()).toBe(1100);
  });

  test("nothing while the battery charges", () => {
    truth.socFraction = 0.9;
    truth.batteryPowerW = 50;
    expect(drawn()).toBe(0);
  });

  test("a day counts once when a load ran on the battery below the floor", () => {
    truth.socFraction = 0.6;
    add(60, [1, 0]);
    expect(outcome.report().totals.reserveDays).toBe(0);
    truth.socFraction = 0.599;
    add(60, [1, 0], 721);
    add(60, [1, 0], 722);
    expect(outcome.report().totals.reserveDays).toBe(1);
    add(60, [1, 0], 720, DAY + 1);
    expect(outcome.report().totals.reserveDays).toBe(2);
  });
});

test("the sunset target is looked at once, in the step that holds the sunset", () => {
  truth.socFraction = 0.919;
  // Sunset at 44.2° N, 6.9° E on 12 June is at 21:15 summer time, give or take minutes.
  for (let minute = 0; minute < 1440; minute += 1) add(60, [0, 0], minute);
  expect(outcome.report().totals.sunsetMisses).toBe(1);
  truth.socFraction = 0.92;
  for (let minute = 0; minute < 1440; minute += 1) add(60, [0, 0], minute, DAY + 1);
  expect(outcome.report().totals.sunsetMisses).toBe(1);
});

test("days without a full charge beyond the fourteenth are counted", () => {
  for (let day = 0; day < 16; day += 1) add(60, [0, 0], 720, DAY + day);
  expect(outcome.report().totals.absorptionMisses).toBe(1);
  truth.absorptionsCompleted = 1;
  for (let day = 16; day < 31; day += 1) add(60, [0, 0], 720, DAY + day);
  // The 17th day still opens overdue; the full charge within it ends the count.
  expect(outcome.report().totals.absorptionMisses).toBe(2);
});

describe("beside the shed without these loads, only what need not have been counts", () => {
  const wholeDay = (day: number): void => {
    for (let minute = 0; minute < 1440; minute += 1) add(60, [0, 0], minute, day);
  };

  test("a sunset that nobody could have brought to the target is no miss", () => {
    truth.socFraction = 0.9;
    reference = { socFraction: 0.919, absorptionsCompleted: 0 };
    wholeDay(DAY);
    expect(outcome.report().totals.sunsetMisses).toBe(0);
    reference.socFraction = 0.92;
    wholeDay(DAY + 1);
    expect(outcome.report().totals.sunsetMisses).toBe(1);
  });

  test("below the floor counts only where the other shed has more, whether a load runs or not", () => {
    truth.socFraction = 0.5;
    reference = { socFraction: 0.5005, absorptionsCompleted: 0 };
    add(60);
    expect(outcome.report().totals.reserveDays).toBe(0);
    reference.socFraction = 0.502;
    add(60, [0, 0], 721);
    add(60, [0, 0], 722);
    expect(outcome.report().totals.reserveDays).toBe(1);
    truth.socFraction = 0.6;
    add(60, [0, 0], 720, DAY + 1);
    expect(outcome.report().totals.reserveDays).toBe(1);
  });

  test("a full charge that was overdue anyway is no miss", () => {
    reference = { socFraction: 0.95, absorptionsCompleted: 0 };
    for (let day = 0; day < 16; day += 1) add(60, [0, 0], 720, DAY + day);
    expect(outcome.report().totals.absorptionMisses).toBe(0);
    reference.absorptionsCompleted = 1;
    for (let day = 16; day < 18; day += 1) add(60, [0, 0], 720, DAY + day);
    expect(outcome.report().totals.absorptionMisses).toBe(1);
  });
});

test("runs and rests: those that the record cuts off do not count as short", () => {
  const stages = [0, 1, 1, 1, 0, 0, 2, 1, 0, 1];
  for (const [i, stage] of stages.entries()) add(60, [stage, 0], 600 + i);
  expect(outcome.report().loads["water-heater"]).toMatchObject({
    starts: 3,
    shortestRunS: 120,
    shortestRestS: 60,
    longestRunS: 180,
  });
  expect(outcome.report().loads["spring-pump"]).toMatchObject({
    starts: 0,
    shortestRunS: null,
    shortestRestS: null,
    longestRunS: null,
  });
});

test("figures have six significant digits", () => {
  expect(roundFigure(1234567.89)).toBe(1234570);
  expect(roundFigure(0.000123456789)).toBe(0.000123457);
  expect(roundFigure(0)).toBe(0);
});

test("what was inferred of the arrays' potential, by day and of all of it", () => {
  truth.potentialW = 4000;
  truth.sunPotentialW = 3000;
  inferredFraction = 0.5;
  add(3600);
  inferredFraction = 0;
  add(3600, [0, 0], 780);
  add(3600, [0, 0], 720, DAY + 1);
  const { totals, perDay } = outcome.report();
  // 1.5 kWh of 8, and of 12.
  expect(perDay.map((day) => day.reconstructedFraction)).toEqual([0.1875, 0]);
  expect(totals.reconstructedFraction).toBe(0.125);
});
