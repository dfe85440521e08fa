/**
 * What is learned of everyday use beside a cooler that has no meter and rests on its own thermostat
 * most of the time that it is on: against what the house of the same days really used.
 */
import { describe, expect, test } from "vitest";
import { loadSite } from "../../config/load.ts";
import { createLocalCalendar } from "../../config/local-calendar.ts";
import { initialMemory } from "../../service/control/memory.ts";
import type { Memory } from "../../service/control/memory.ts";
import type { Observation } from "../../service/control/observation.ts";
import { step } from "../../service/control/step.ts";
import { replay } from "../../simulator/replay.ts";
import { syntheticDay } from "../../simulator/weather/synthetic-day.ts";

const MALGA = new URL("../../config/examples/malga.yaml", import.meta.url).pathname;
const HOURS = 24;
const DAYS = 14;
const KINDS = ["clear", "broken", "clear", "overcast", "clear"] as const;
const COOLER = 2;
const site = loadSite({ path: MALGA, overrides: ["ruleCurve={ mode: outlook }"] });
const { efficiencyFraction, idleW } = site.control.inverter;

const days = Array.from({ length: DAYS }, (_, day) =>
  syntheticDay({
    site,
    localDate: `2026-06-${String(day + 1).padStart(2, "0")}`,
    seed: day,
    kind: KINDS[day % KINDS.length]!,
  }),
);

/** Mean of each hour: learned, true, and if the cooler had drawn all the time. [W] at the bus */
function use(seenAs: (observation: Observation) => Observation) {
  const truthW = new Float64Array(HOURS);
  const countedW = new Float64Array(HOURS);
  let restedMs = 0;
  let ranMs = 0;
  let memory: Memory = initialMemory(site.control, 0);
  replay({
    site,
    days,
    calendar: createLocalCalendar(site.timeZone),
    stepS: 60,
    startFraction: 0.7,
    mayBridge: false,
    plant: null,
    onDecision: null,
    step: (before, observation, settings) => {
      const result = step(before, seenAs(observation), settings);
      ({ memory } = result);
      return result;
    },
    onStep: ({ localMinute, truth, decision }) => {
      const hour = Math.floor(localMinute / 60);
      const share = 1 / (60 * DAYS);
      const baseW = (truth.baseAcW - truth.unservedW) / efficiencyFraction + idleW;
      const drawnW = truth.loadPowerW[COOLER] ?? NaN;
      const isOn = decision.loadStages[COOLER] === 1;
      truthW[hour]! += share * baseW;
      countedW[hour]! += share * (baseW - (isOn ? (500 - drawnW) / efficiencyFraction : 0));
      if (isOn) ranMs += 60_000;
      if (isOn && drawnW === 0) restedMs += 60_000;
    },
  });
  return { learnedW: memory.outlook.base.meanW, truthW, countedW, restedShare: restedMs / ranMs };
}

const offs = (oneW: ArrayLike<number>, otherW: ArrayLike<number>): number[] =>
  Array.from(oneW, (powerW, hour) => Math.abs(powerW - (otherW[hour] ?? NaN)));
const mean = (all: readonly number[]): number =>
  all.reduce((sum, one) => sum + one, 0) / all.length;

const withoutPanelMeter = (observation: Observation): Observation => ({
  ...observation,
  panels: observation.panels.map((panel) => ({
    ...panel,
    powerW: { value: 0, quality: "unmapped", ageMs: 0 },
  })),
});

describe("everyday use beside a cooler without a meter, by hours of two weeks", () => {
  test.each([
    ["on a panel that has one", (observation: Observation) => observation, 15, 45],
    ["by the inverter's power alone", withoutPanelMeter, 25, 65],
  ])("%s", (_, seenAs, meanMaxW, worstMaxW) => {
    const { learnedW, truthW, countedW, restedShare } = use(seenAs);
    // The days have what it is about: counted as drawing, hours would be off by hundreds of watts.
    expect(restedShare).toBeGreaterThan(0.5);
    expect(Math.max(...offs(countedW, truthW))).toBeGreaterThan(300);
    expect(mean(offs(countedW, truthW))).toBeGreaterThan(80);
    expect(mean(offs(learnedW, truthW))).toBeLessThan(meanMaxW);
    expect(Math.max(...offs(learnedW, truthW))).toBeLessThan(worstMaxW);
  });
});
