import { readFileSync } from "node:fs";
import { beforeAll, describe, expect, test } from "vitest";
import { loadSite } from "../../config/load.ts";
import { createLocalCalendar } from "../../config/local-calendar.ts";
import type { SiteSettings } from "../../config/site-settings.ts";
import type { Decision } from "../../service/control/decision.ts";
import type { Observation } from "../../service/control/observation.ts";
import { step } from "../../service/control/step.ts";
import type { Step } from "../../service/control/step.ts";
import type { DaySeries } from "../../simulator/days/day-file.ts";
import { readDayCsv } from "../../simulator/days/read-csv.ts";
import type { OutcomeReport } from "../../simulator/outcome.ts";
import { replay } from "../../simulator/replay.ts";
import { syntheticDay } from "../../simulator/weather/synthetic-day.ts";

const MALGA = new URL("../../config/examples/malga.yaml", import.meta.url).pathname;
const SAMPLE = new URL("../../simulator/samples/measured-broken-cloud.csv", import.meta.url);

let site: SiteSettings;
let sample: DaySeries;

beforeAll(() => {
  site = loadSite({ path: MALGA });
  sample = readDayCsv(readFileSync(SAMPLE, "utf8"), "sample");
});

type Listener = (decision: Decision, observation: Observation) => void;

function run(
  days: readonly DaySeries[],
  changes: { readonly step?: Step; readonly listener?: Listener; readonly stepS?: number } = {},
): OutcomeReport {
  return replay({
    site,
    days,
    step: changes.step ?? step,
    calendar: createLocalCalendar(site.timeZone),
    stepS: changes.stepS ?? 60,
    startFraction: 0.85,
    mayBridge: false,
    plant: null,
    onDecision: changes.listener ?? null,
  });
}

/** The same tick, but nothing is ever switched on. */
const neverOn: Step = (memory, observation, settings) => {
  const result = step(memory, observation, settings);
  const decision = {
    ...result.decision,
    loadStages: result.decision.loadStages.map(() => 0),
    panelsClosed: result.decision.panelsClosed.map(() => false),
  };
  return { memory: result.memory, decision };
};

/** A bad policy on purpose: everything, always. */
const alwaysOn: Step = (memory, observation, settings) => {
  const result = step(memory, observation, settings);
  const decision = {
    ...result.decision,
    loadStages: settings.loads.map((load) => load.stagesW.length),
    panelsClosed: settings.panels.map(() => true),
  };
  return { memory: result.memory, decision };
};

describe("the measured broken-cloud day", () => {
  test("diverts what would be thrown away, and keeps the reserve", () => {
    const { totals, perDay } = run([sample]);
    const idle = run([sample], { step: neverOn }).totals;
    expect(perDay.map(({ date }) => date)).toEqual(["2012-05-17"]);
    expect(totals.divertedWh).toBeGreaterThan(3000);
    expect(totals.curtailedWh).toBeLessThan(idle.curtailedWh - 3000);
    expect(totals.potentialWh).toBeCloseTo(idle.potentialWh, -1);
    expect(totals.unservedWh).toBe(0);
    expect(totals.reserveDays).toBe(0);
    expect(totals.reserveDrawnWh).toBeLessThan(20);
  });

  test("a policy that keeps everything on is caught by the same figures", () => {
    const { totals } = run([sample], { step: alwaysOn });
    expect(totals.reserveDrawnWh).toBeGreaterThan(1000);
    expect(totals.reserveDays).toBe(1);
    expect(totals.minSocPercent).toBeLessThan(60);
  });

  test("sun and clock are the recording's, not the site's", () => {
    let sunlitMinutes = 0;
    let localNoonSeen = false;
    run([sample], {
      listener: ({ site: verdict }, observation) => {
        if (verdict.isDaylight === true) sunlitMinutes += 1;
        if (observation.wallMs === Date.parse("2012-05-17T12:00:00-07:00")) {
          localNoonSeen = observation.localMinute === 720;
        }
      },
    });
    expect(localNoonSeen).toBe(true);
    // Golden on 17 May: from 04:45 to 19:11 MST, 14.4 h.
    expect(Math.abs(sunlitMinutes / 60 - 14.4)).toBeLessThan(0.2);
  });
});

const kindsOfDays = ["clear", "broken", "overcast"] as const;

describe("made-up days", () => {
  const kinds = kindsOfDays;

  test.each(kinds)("%s: the same run twice is the same to the last digit", (kind) => {
    const days = () => [syntheticDay({ site, localDate: "2025-06-12", seed: 3, kind })];
    expect(JSON.stringify(run(days()))).toBe(JSON.stringify(run(days())));
  });

  test("where the sun's energy goes adds up over three days", () => {
    const days = [12, 13, 14].map((day, i) =>
      syntheticDay({ site, localDate: `2025-06-${day}`, seed: i, kind: kinds[i] ?? "clear" }),
    );
    const { totals, loads, perDay, days: count } = run(days);
    expect(count).toBe(3);
    const perLoad = Object.values(loads).reduce((sum, load) => sum + load.energyWh, 0);
    expect(perLoad).toBeCloseTo(totals.divertedWh, -1);
    const starts = Object.values(loads).reduce((sum, load) => sum + load.starts, 0);
    expect(starts).toBe(totals.starts);
    for (const key of ["potentialWh", "curtailedWh", "baseLoadWh", "divertedWh"] as const) {
      const sum = perDay.reduce((total, figures) => total + figures[key], 0);
      expect(Math.abs(sum - totals[key])).toBeLessThan(1e-5 * totals[key] + 0.1);
    }
    const usedWh = totals.potentialWh - totals.curtailedWh;
    expect(usedWh).toBeGreaterThan(totals.baseLoadWh + totals.divertedWh - 4000);
    expect(totals.usefulDivertedWh).toBeLessThanOrEqual(totals.divertedWh);
  });

  test("minimum run and rest hold in every load's figures", () => {
    const days = Array.from({ length: 10 }, (_, i) =>
      syntheticDay({ site, localDate: `2025-07-${10 + i}`, seed: i, kind: "broken" }),
    );
    const { loads } = run(days);
    let compared = 0;
    for (const load of site.control.loads) {
      const figures = loads[load.id];
      if (figures?.shortestRestS === null || figures === undefined) continue;
      expect(figures.shortestRestS, load.id).toBeGreaterThanOrEqual(load.minRestMs / 1000);
      compared += 1;
    }
    expect(compared).toBe(site.control.loads.length);
  });

  test("a shorter step tells the same story", () => {
    const day = syntheticDay({ site, localDate: "2025-06-12", seed: 2, kind: "broken" });
    const minutes = run([day]).totals;
    const tens = run([day], { stepS: 10 }).totals;
    expect(Math.abs(tens.potentialWh / minutes.potentialWh - 1)).toBeLessThan(0.01);
    expect(Math.abs(tens.divertedWh / minutes.divertedWh - 1)).toBeLessThan(0.1);
  });

  test("steps of 2 s and of 60 s agree: useful energy within 1 %, starts within 5 %", () => {
    const made = syntheticDay({ site, localDate: "2025-06-12", seed: 3, kind: "broken" });
    for (const day of [sample, made]) {
      const minutes = run([day]).totals;
      const seconds = run([day], { stepS: 2 }).totals;
      expect(minutes.usefulDivertedWh).toBeGreaterThan(3000);
      expect(minutes.starts).toBeGreaterThan(0);
      const energyRatio = seconds.usefulDivertedWh / minutes.usefulDivertedWh;
      expect(Math.abs(energyRatio - 1)).toBeLessThanOrEqual(0.01);
      expect(Math.abs(seconds.starts / minutes.starts - 1)).toBeLessThanOrEqual(0.05);
    }
  });

  test("the day the clocks go forward has 23 hours, the day they go back 25", () => {
    const spring = syntheticDay({ site, localDate: "2025-03-30", seed: 1, kind: "clear" });
    const autumn = syntheticDay({ site, localDate: "2025-10-26", seed: 1, kind: "clear" });
    expect(spring.timesMs).toHaveLength(1380);
    expect(autumn.timesMs).toHaveLength(1500);
    expect(run([spring]).perDay.map(({ date }) => date)).toEqual(["2025-03-30"]);
  });
});

describe("a creek, lead-acid batteries and a generator", () => {
  const TASMANIA = new URL("../../config/examples/tasmania.yaml", import.meta.url).pathname;

  test("its days are replayed; the dump counts as unused, the generator not as potential", () => {
    site = loadSite({ path: TASMANIA });
    const days = [1, 2, 3].map((day, i) => {
      const made = syntheticDay({
        site,
        localDate: `2026-01-0${day}`,
        seed: i,
        kind: kindsOfDays[i] ?? "clear",
      });
      const calledW = made.timesMs.map((_, row) => (day === 3 && row < 90 ? 2000 : 0));
      return { ...made, columns: new Map(made.columns).set("generator_power_w", calledW) };
    });
    let turbineSteps = 0;
    let runningSteps = 0;
    const { totals, perDay } = run(days, {
      listener: (_decision, observation) => {
        const [, creek] = observation.sources;
        if ((creek?.powerW.value ?? 0) + (creek?.dumpPowerW.value ?? 0) > 290) turbineSteps += 1;
        if (observation.isGeneratorRunning.value) runningSteps += 1;
      },
    });
    expect(turbineSteps).toBe(3 * 1440);
    // 90 min of running, seen from its first instant to the one after it.
    expect(runningSteps).toBe(91);
    expect(totals.divertedWh).toBeGreaterThan(1500);
    expect(totals.reserveDays).toBe(0);
    expect(totals.potentialWh).toBeGreaterThan(3 * 24 * 294);
    expect(perDay.map(({ generatorWh }) => generatorWh > 500)).toEqual([false, false, true]);
    site = loadSite({ path: MALGA });
  });
});

describe("days that cannot be replayed are refused", () => {
  const whole = ["10:00:00", "10:01:00"];
  const holed = ["10:00:00", "10:01:00", "10:30:00"];

  function file(columns: string, row: string, times = whole): DaySeries {
    const rows = times.map((time) => `2025-06-12T${time}Z,${row}`);
    return readDayCsv(`# step: 60 s\ntime,${columns}\n${rows.join("\n")}`, "d");
  }

  test("a throttled recording without potential, by what is missing", () => {
    const series = file("base_load_w,pv_power_w", "300,1000");
    expect(() => run([series])).toThrow(/day-no-potential[\s\S]*throttled/);
  });

  test("no load column", () => {
    expect(() => run([file("pv_potential_w", "1000")])).toThrow(/day-no-load/);
  });

  test("a hole of half an hour, in the rows or in a column", () => {
    const series = file("base_load_w,pv_potential_w", "300,1000", holed);
    expect(() => run([series])).toThrow(/day-gap[\s\S]*29 min/);
    const times = Array.from({ length: 31 }, (_, i) => `10:${String(i).padStart(2, "0")}:00`);
    const full = file("base_load_w,pv_potential_w", "300,1000", times);
    full.columns.get("base_load_w")?.fill(NaN, 5, 25);
    expect(() => run([full])).toThrow(/day-gap[\s\S]*base_load_w is empty for 21 min/);
  });

  test("rows closer than the step are all counted", () => {
    const seconds = Array.from({ length: 60 }, (_, s) => `10:00:${String(s).padStart(2, "0")}`);
    const rows = seconds.map((time, s) => `2025-06-12T${time}Z,${s % 2 === 0 ? 0 : 600},1000`);
    const text = `# step: 1 s\ntime,base_load_w,pv_potential_w\n${rows.join("\n")}`;
    const { totals } = run([readDayCsv(text, "d")]);
    expect(totals.baseLoadWh).toBeCloseTo(300 / 60, 6);
  });

  test("base load from the total less the diverted loads", () => {
    const series = file("total_load_w,load_spring-pump_w,pv_potential_w", "1050,750,1000");
    expect(run([series], { step: neverOn }).totals.baseLoadWh).toBeCloseTo((300 * 2) / 60, 6);
  });
});
