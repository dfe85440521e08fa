/** What must hold of every start, whatever sky, use, battery and appliance. */
import fc from "fast-check";
import { expect, test } from "vitest";
import { STEP_H } from "../../../service/control/guidance/prospect.ts";
import type { Start } from "../../../service/control/guidance/starts.ts";
import { numberAt } from "../../../service/control/item-at.ts";
import { appliance } from "./given.ts";
import { PLAIN_BATTERY, sketched, startsIn, TAPERING_BATTERY } from "./prospects.ts";
import type { Sketch } from "./prospects.ts";

const STEPS = 48;
const MINUTE_MS = 60_000;
const RANKS = { good: 2, "so-so": 1, costly: 0, closed: -1 } as const;
/** Below this a difference is one of rounding. */
const ROUNDING = 1e-6;

const powers = (min: number, max: number) =>
  fc.array(fc.integer({ min, max }), { minLength: STEPS, maxLength: STEPS });
const piece = fc.record({
  powerW: fc.integer({ min: 50, max: 4000 }),
  // Ends beside the grid of ten minutes, too.
  forMs: fc.constantFrom(1, 9, 10, 11, 20, 35, 60).map((minutes) => minutes * MINUTE_MS),
});
const profile = fc.array(piece, { minLength: 1, maxLength: 3 });
/** Marks at which nothing and everything is allowed come often. */
const fraction = fc.oneof(
  fc.constantFrom(0.2, 0.5, 0.51, 1),
  fc.double({ min: 0.2, max: 1, noNaN: true }),
);

const site = fc.record({
  middleW: powers(-1500, 4000),
  lessW: powers(0, 1500),
  socFraction: fraction,
  battery: fc.constantFrom(PLAIN_BATTERY, TAPERING_BATTERY),
  targetFraction: fc.constantFrom(0.4, 0.5, 0.9),
  profile,
});

type Site = typeof site extends fc.Arbitrary<infer Value> ? Value : never;

function startsOf(
  { middleW, lessW, socFraction, profile: pieces, ...rest }: Site,
  over: Partial<Sketch> = {},
) {
  const cautiousW = middleW.map((powerW, step) => powerW - numberAt(lessW, step));
  const sketch = { middleW, cautiousW, ...rest, ...over };
  const prospect = sketched(sketch);
  return {
    prospect,
    starts: startsIn(prospect, socFraction, { appliance: appliance({ profile: pieces }) }),
  };
}

function plus(powersW: readonly number[], moreW: readonly number[], sign = 1): number[] {
  return powersW.map((powerW, step) => powerW + sign * numberAt(moreW, step));
}

function neverBetter(before: readonly Start[], after: readonly Start[]): void {
  expect(after).toHaveLength(before.length);
  for (const [step, start] of before.entries()) {
    const other = after[step]!;
    expect(RANKS[other.grade]).toBeLessThanOrEqual(RANKS[start.grade]);
    expect(other.sunShare).toBeLessThanOrEqual(start.sunShare + ROUNDING);
  }
}

test("no start is good from which the cautious side falls under the curve", () => {
  let good = 0;
  fc.assert(
    fc.property(site, (given) => {
      const plain = { ...given, battery: PLAIN_BATTERY };
      const { prospect, starts } = startsOf(plain);
      const { netW, curve } = prospect.cautious;
      const ofRun = inSteps(given.profile);
      // An oracle of its own: energy in, energy out, and nothing else.
      let before = given.socFraction;
      for (const [from, start] of starts.entries()) {
        let socFraction = before;
        let isBelow = false;
        for (let step = from; step < STEPS; step += 1) {
          const powerW = numberAt(netW, step) - (ofRun[step - from] ?? 0);
          socFraction = Math.min(1, Math.max(0, socFraction + (powerW * STEP_H) / 10_000));
          isBelow ||= socFraction < numberAt(curve, step + 1) - 2 * ROUNDING;
        }
        if (start.grade === "good") {
          good += 1;
          expect(isBelow).toBe(false);
        }
        before = Math.min(1, Math.max(0, before + (numberAt(netW, from) * STEP_H) / 10_000));
      }
    }),
  );
  expect(good).toBeGreaterThan(100);
});

function inSteps(pieces: Site["profile"]): number[] {
  const perMinute = pieces.flatMap(({ powerW, forMs }) =>
    new Array<number>(forMs / MINUTE_MS).fill(powerW),
  );
  const steps = new Array<number>(Math.ceil(perMinute.length / 10)).fill(0);
  for (const [minute, powerW] of perMinute.entries()) {
    const step = Math.floor(minute / 10);
    steps[step] = numberAt(steps, step) + powerW / 10;
  }
  return steps;
}

test("more sun makes no start worse, less of it or another load none better", () => {
  fc.assert(
    fc.property(site, powers(0, 800), (given, moreW) => {
      const { middleW } = given;
      const brighter = { ...given, middleW: plus(middleW, moreW) };
      neverBetter(startsOf(brighter).starts, startsOf(given).starts);
    }),
  );
});

test("an appliance that draws more is never better off", () => {
  fc.assert(
    fc.property(site, fc.double({ min: 1, max: 3, noNaN: true }), (given, factor) => {
      const heavier = given.profile.map(({ powerW, forMs }) => ({
        powerW: powerW * factor,
        forMs,
      }));
      const before = startsOf(given).starts;
      const after = startsOf({ ...given, profile: heavier }).starts;
      for (const [step, start] of after.entries()) {
        expect(RANKS[start.grade]).toBeLessThanOrEqual(RANKS[before[step]!.grade]);
        // What the inverter no longer carries is not tried.
        if (start.grade === "closed") continue;
        expect(start.cautiousMissing).toBeGreaterThanOrEqual(
          before[step]!.cautiousMissing - ROUNDING,
        );
      }
    }),
  );
});

test("energy is taken from loads only where there are some, and never more than it uses", () => {
  fc.assert(
    fc.property(site, fc.constantFrom(0, 500, 3000), (given, loadsW) => {
      const { starts } = startsOf({ ...given, battery: PLAIN_BATTERY }, { loadsW });
      const usedWh = inSteps(given.profile).reduce((sum, powerW) => sum + powerW * STEP_H, 0);
      for (const { takenWh } of starts) {
        expect(takenWh).toBeGreaterThanOrEqual(0);
        expect(takenWh).toBeLessThanOrEqual(loadsW === 0 ? 0 : usedWh + 1e-3);
      }
    }),
  );
});
