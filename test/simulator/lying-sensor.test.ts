/** A light sensor that lies: a load that is started on its word has to prove itself all the same. */
import fc from "fast-check";
import { expect, test } from "vitest";
import { loadSite } from "../../config/load.ts";
import { createLocalCalendar } from "../../config/local-calendar.ts";
import { itemAt } from "../../service/control/item-at.ts";
import { step } from "../../service/control/step.ts";
import { replay } from "../../simulator/replay.ts";
import { syntheticDay } from "../../simulator/weather/synthetic-day.ts";

const MALGA = new URL("../../config/examples/malga.yaml", import.meta.url).pathname;
const STEP_MS = 60_000;
const OPPORTUNITY = ["water-heater", "spring-pump", "whey-cooler"];
const site = loadSite({
  path: MALGA,
  overrides: [
    'telemetry.sky.irradiance={ topic: shed/sun, unit: "W/m2" }',
    "irradianceSensor={ tilt: 38 deg, azimuth: 172 deg }",
    "loads.water-heater.tank.volume=2000 L",
    // They wait until the battery is full and the arrays are held back.
    "ruleCurve.at=98 %",
    ...OPPORTUNITY.map((id) => `loads.${id}.start.aboveRuleCurve=1 %`),
  ],
});
const { loads, staggerMs } = site.control;

interface Lie {
  readonly kind: "clear" | "broken" | "overcast";
  readonly seed: number;
  /** From when on. [min] after midnight */
  readonly from: number;
  /** What it says then of what it should: 0, twice… */
  readonly factor: number;
  /** Or this all the time. [W/m²] */
  readonly stuckWm2: number | null;
}

/** Longest that a load which proves itself was on though the battery gave for it; starts on it. */
function run({ kind, seed, from, factor, stuckWm2 }: Lie) {
  const found = { overMs: -Infinity, onSure: 0, starved: 0 };
  replay({
    site,
    days: [syntheticDay({ site, localDate: "2026-06-12", seed, kind })],
    calendar: createLocalCalendar(site.timeZone),
    stepS: STEP_MS / 1000,
    startFraction: 0.9,
    mayBridge: false,
    plant: null,
    step: (memory, observation, settings) => {
      const { value, quality } = observation.irradianceWm2;
      expect(quality).toBe("fresh");
      const lied = stuckWm2 ?? factor * value;
      const irradianceWm2 = { value: lied, quality, ageMs: 0 };
      const seen = observation.localMinute < from ? observation : { ...observation, irradianceWm2 };
      const result = step(memory, seen, settings);
      for (const [index, load] of result.memory.loads.entries()) {
        const { minRunMs, stopForMs } = itemAt(loads, index);
        if (!load.isTry || load.starvedSinceMs === null || load.stage === 0) continue;
        found.starved += 1;
        const mayMs = Math.max(minRunMs, stopForMs) + loads.length * staggerMs + 2 * STEP_MS;
        const starvedMs = observation.monotonicMs - load.starvedSinceMs;
        found.overMs = Math.max(found.overMs, starvedMs - mayMs);
      }
      return result;
    },
    onDecision: ({ verdicts }, { localMinute }) => {
      if (localMinute < from) return;
      for (const { code } of verdicts) if (code === "running-hidden") found.onSure += 1;
    },
  });
  return found;
}

test("no load is kept on by it that the arrays do not carry", () => {
  let starved = 0;
  fc.assert(
    fc.property(
      fc.record({
        kind: fc.constantFrom("clear", "broken", "overcast"),
        seed: fc.integer({ min: 1, max: 1000 }),
        from: fc.integer({ min: 600, max: 900 }),
        factor: fc.double({ min: 0, max: 3, noNaN: true }),
        stuckWm2: fc.option(fc.integer({ min: 0, max: 1200 })),
      }),
      (lie) => {
        const found = run(lie);
        starved += found.starved;
        expect(found.overMs).toBeLessThanOrEqual(0);
      },
    ),
    { numRuns: 16 },
  );
  expect(starved).toBeGreaterThan(0);
});

test("one that goes dark starts nothing, and one that tells the truth does", () => {
  const lie = { kind: "clear", seed: 3, from: 600, stuckWm2: null } as const;
  expect(run({ ...lie, factor: 0 }).onSure).toBe(0);
  expect(run({ ...lie, factor: 1 }).onSure).toBeGreaterThan(0);
});
