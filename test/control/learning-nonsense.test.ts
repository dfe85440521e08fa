/**
 * What a lying sensor or a wrong clock may do to what is learned. What can be told from the truth
 * moves nothing; what cannot moves it, within bounds, and is unlearned within days.
 */
import { describe, expect, it } from "vitest";
import { modelPowerW } from "../../service/solar/array-model.ts";
import { NO_BASE, expectedBaseW, learnHour } from "../../service/control/outlook/base-profile.ts";
import { initialOutlook } from "../../service/control/outlook/outlook-memory.ts";
import { judgePotential } from "../../service/control/potential.ts";
import { initialPotential } from "../../service/control/potential-memory.ts";
import type { PotentialMemory } from "../../service/control/potential-memory.ts";
import { fractionAt, sunAt } from "../../service/control/site-response.ts";
import { fresh, HOUR_MS, lost, MINUTE_MS, observe, Run, site } from "./given.ts";

const settings = site();
const roof = theArray();
const DAY_MS = 24 * HOUR_MS;
const DIRTY = 0.85;
const BULK = { stage: "bulk", isAtSetpoint: false, isFull: false, tailSinceMs: null } as const;

function theArray() {
  const array = settings.sources.find((source) => source.kind === "array");
  if (array === undefined) throw new Error("the site has an array");
  return array;
}

/** An array that gives 85 % of the model on every day, as seen by what the day's trouble does. */
class Weeks {
  memory: PotentialMemory = initialPotential(settings);
  atMs = 0;

  day(see: (trueW: number) => number = (trueW) => trueW, clockErrorMs = 0): this {
    for (let minute = 0; minute < 1440; minute += 1, this.atMs += MINUTE_MS) {
      const trueW = DIRTY * this.#modelW(observe(settings, this.atMs).wallMs);
      const shown = observe(settings, this.atMs, { arrayW: see(trueW), currentA: 20 });
      const observation = { ...shown, wallMs: shown.wallMs + clockErrorMs };
      const input = { settings, charge: BULK, generatorAtMs: null, dtMs: MINUTE_MS };
      this.memory = judgePotential(this.memory, observation, input).memory;
    }
    return this;
  }

  days(count: number): this {
    for (let day = 0; day < count; day += 1) this.day();
    return this;
  }

  #modelW(wallMs: number): number {
    return modelPowerW(roof, settings, wallMs);
  }

  /** Response with the sun where it stands today at this hour of the local clock. */
  at(hour: number): number {
    const noonMs = Math.floor(this.atMs / DAY_MS) * DAY_MS;
    const { wallMs } = observe(settings, noonMs + (hour - 12) * HOUR_MS);
    const response = this.memory.responses[0];
    if (response === undefined) throw new Error("the site has an array");
    return fractionAt(response, sunAt(roof, settings, wallMs));
  }

  get all(): readonly number[] {
    return [9, 11, 13, 15, 17].map((hour) => this.at(hour));
  }
}

function near(weeks: Weeks, within: number): void {
  for (const fraction of weeks.all) expect(Math.abs(fraction - DIRTY)).toBeLessThan(within);
}

describe("how an array differs from the model", () => {
  it("is as it is without any trouble", () => {
    near(new Weeks().days(12), 0.05);
  });

  it("is moved by a power that stands still, stays within bounds and is back in ten days", () => {
    // Not marked as frozen: its last digit flickers, or nothing else moves.
    const weeks = new Weeks().days(12).day(() => 3000);
    expect(Math.max(...weeks.all)).toBeGreaterThan(1);
    expect(Math.max(...weeks.all)).toBeLessThanOrEqual(3);
    near(weeks.days(10), 0.12);
  });

  it("is hardly moved by a power that stands at nothing: that is what snow looks like", () => {
    const weeks = new Weeks()
      .days(12)
      .day(() => 0)
      .day(() => 0);
    near(weeks, 0.12);
  });

  it("is moved by a clock that is two hours wrong for a day, and back in ten", () => {
    const weeks = new Weeks().days(12).day((trueW) => trueW, 2 * HOUR_MS);
    expect(Math.max(...weeks.all.map((fraction) => Math.abs(fraction - DIRTY)))).toBeGreaterThan(
      0.1,
    );
    near(weeks.days(10), 0.12);
  });
});

describe("everyday use", () => {
  const at = (day: number, hour: number) => ({ localDay: 20_600 + day, hour });
  const known = () => {
    let profile = NO_BASE;
    for (let day = 0; day < 14; day += 1) {
      for (let hour = 0; hour < 24; hour += 1) {
        profile = learnHour(profile, at(day, hour), 400 + (day % 2) * 40);
      }
    }
    return profile;
  };

  it("is moved little by a meter that stands still for a day, and is back in ten", () => {
    let profile = known();
    for (let hour = 0; hour < 24; hour += 1) profile = learnHour(profile, at(14, hour), 7000);
    const moved = expectedBaseW(profile, at(15, 12));
    expect(moved).toBeGreaterThan(425);
    expect(moved).toBeLessThan(440);
    for (let day = 15; day < 25; day += 1) profile = learnHour(profile, at(day, 12), 420);
    expect(Math.abs(expectedBaseW(profile, at(25, 12)) - 420)).toBeLessThan(15);
  });

  it.each([
    ["the clock is in doubt", { over: { isWallClockPlausible: false } }],
    [
      "inverter and battery are silent",
      { inverter: { powerW: lost(300) }, battery: { currentA: lost(20) } },
    ],
  ])("is not learned while %s", (_name, scene) => {
    const run = new Run(site({ loads: [] }));
    run.during(4 * HOUR_MS, scene);
    expect(run.memory.outlook.base).toBe(initialOutlook(0).base);
  });

  it("is learned without them, and what an opportunity load takes is not part of it", () => {
    const run = new Run(site());
    run.during(4 * HOUR_MS, () => ({
      inverterW: 300 + (run.memory.loads[0]?.powerW ?? 0),
      currentA: 40,
      battery: { socFraction: fresh(0.99) },
    }));
    expect(run.stages).not.toEqual([0]);
    const [noon = 0] = run.memory.outlook.base.meanW.slice(13, 14);
    expect(noon).toBeCloseTo(300 / 0.92 + 35, 0);
  });
});
