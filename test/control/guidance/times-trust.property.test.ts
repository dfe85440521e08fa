/** How sure a kind of good time is, whatever came of such times before. */
import fc from "fast-check";
import { expect, test } from "vitest";
import { cameTrue } from "../../../service/control/guidance/came-true.ts";
import type { SeenStep } from "../../../service/control/guidance/came-true.ts";
import { STEP_MS } from "../../../service/control/guidance/prospect.ts";
import { restoredTimes } from "../../../service/control/guidance/restored-times.ts";
import { KINDS } from "../../../service/control/guidance/time-kinds.ts";
import { NO_TIMES } from "../../../service/control/guidance/times-record.ts";
import type { DaysKept } from "../../../service/control/guidance/times-record.ts";
import {
  daysToTell,
  likelyShare,
  trustedAs,
} from "../../../service/control/guidance/times-trust.ts";
import { PLAIN_BATTERY } from "./prospects.ts";

const RANKS = { low: 0, fair: 1, high: 2 } as const;
const share = fc.double({ min: 0, max: 1, noNaN: true });
const kindPlace = fc.nat({ max: KINDS.length - 1 });
const daysKept = fc
  .tuple(fc.double({ min: 0, max: 87, noNaN: true }), share)
  .map(([said, part]): DaysKept => ({ said, kept: said * part }));

function recordOf(kind: number, days: DaysKept) {
  return { days: NO_TIMES.days.with(kind, days) };
}

test("a day that came true never makes it less sure, one that did not never more", () => {
  fc.assert(
    fc.property(kindPlace, daysKept, share, (kind, days, part) => {
      const rank = (one: DaysKept): number => RANKS[trustedAs(recordOf(kind, one), kind)];
      const now = rank(days);
      expect(rank({ said: days.said + 1, kept: days.kept + 1 })).toBeGreaterThanOrEqual(now);
      expect(rank({ said: days.said + 1, kept: days.kept })).toBeLessThanOrEqual(now);
      const more = Math.min(days.said, days.kept + part);
      expect(rank({ said: days.said, kept: more })).toBeGreaterThanOrEqual(now);
    }),
  );
});

test("high is said of what came true on nine days in ten, but for a tenth of a day", () => {
  fc.assert(
    fc.property(kindPlace, daysKept, (kind, days) => {
      fc.pre(trustedAs(recordOf(kind, days), kind) === "high");
      expect(days.said - days.kept).toBeLessThanOrEqual(0.1 * days.said + 0.1 + 1e-9);
    }),
  );
});

test("what is taken for granted decides at first, and what came true in the end", () => {
  for (const { keptBefore } of KINDS) {
    expect(likelyShare({ said: 0, kept: 0 }, keptBefore)).toBeCloseTo(keptBefore, 12);
    expect(likelyShare({ said: 10, kept: 5 }, keptBefore)).toBeCloseTo((keptBefore + 0.5) / 2, 12);
  }
  const words = KINDS.map((_, kind) => trustedAs(NO_TIMES, kind));
  expect(words).toEqual(["high", "fair", "fair", "fair", "high", "fair"]);
});

test("from ten days on it is told, in whole days, and never more true than said", () => {
  expect(daysToTell(recordOf(0, { said: 9.9, kept: 9 }), 0)).toBeNull();
  expect(daysToTell(recordOf(0, { said: 24.4, kept: 22.1 }), 0)).toEqual({ said: 24, kept: 22 });
  expect(daysToTell(recordOf(0, { said: 24.6, kept: 24.6 }), 0)).toEqual({ said: 25, kept: 25 });
});

const START_MS = 1_000 * STEP_MS;
const steps = fc.array(fc.integer({ min: -3000, max: 3000 }), { minLength: 2, maxLength: 40 });

function seenOf(netW: readonly number[], socFraction = 0.7): SeenStep[] {
  return netW.map((powerW, at) => ({
    atMs: START_MS + at * STEP_MS,
    netW: powerW,
    socFraction,
    hasFuel: false,
  }));
}

const WANTED = { battery: PLAIN_BATTERY, floorFraction: 0.3, sunsetTargetFraction: 0.6 };

test("more sun never makes a time untrue; what comes after sunset makes no difference", () => {
  let mixed = 0;
  fc.assert(
    fc.property(steps, fc.nat({ max: 2000 }), steps, (netW, moreW, after) => {
      const sunsetMs = START_MS + netW.length * STEP_MS - 1;
      const said = { startMs: START_MS + 1, sunsetMs, stepW: [2100, 2100, 250] };
      const found = cameTrue(said, seenOf(netW), WANTED);
      const more = cameTrue(said, seenOf(netW.map((powerW) => powerW + moreW)), WANTED);
      expect(found).not.toBeNull();
      if (found === true) expect(more).toBe(true);
      if (found !== more) mixed += 1;
      expect(cameTrue(said, seenOf([...netW, ...after]), WANTED)).toBe(found);
    }),
  );
  expect(mixed).toBeGreaterThan(0);
});

test("a hole anywhere between start and sunset, and nothing is known of it", () => {
  fc.assert(
    fc.property(steps, fc.nat(), (netW, at) => {
      const sunsetMs = START_MS + netW.length * STEP_MS;
      const seen = seenOf(netW);
      seen.splice(at % netW.length, 1);
      expect(cameTrue({ startMs: START_MS, sunsetMs, stepW: [100] }, seen, WANTED)).toBeNull();
    }),
  );
});

test("a battery at its floor on the way is none that came true, however full at sunset", () => {
  const said = { startMs: START_MS, sunsetMs: START_MS + 3 * STEP_MS, stepW: [] };
  const strong = [-1e5, 1e6, 1e6];
  expect(cameTrue(said, seenOf(strong), { ...WANTED, floorFraction: 0 })).toBe(true);
  expect(cameTrue(said, seenOf(strong), WANTED)).toBe(false);
});

test("of whatever is in a file, only what is sound is taken", () => {
  const whole = {
    ...NO_TIMES,
    step: { atMs: 5, looks: 3, netW: -40, socFraction: 0.5, hasFuel: true },
    seen: [{ atMs: 1, netW: 4, socFraction: 0.2, hasFuel: false }],
    said: [{ kind: 1, startMs: 1, sunsetMs: 2, stepW: [1, 2] }],
    saidHour: 7,
    days: NO_TIMES.days.with(2, { said: 3, kept: 2.5 }),
    fadedOnDay: 20_000,
  };
  const again = (over: object): unknown => restoredTimes({ ...whole, ...over });
  expect(again({})).toEqual(whole);
  for (const days of [[], [...NO_TIMES.days, 1], NO_TIMES.days.with(0, { said: 1, kept: 2 })]) {
    expect(again({ days })).toBe(NO_TIMES);
  }
  expect(again({ days: NO_TIMES.days.with(0, { said: 89, kept: 1 }) })).toBe(NO_TIMES);
  expect(again({ days: NO_TIMES.days.with(0, { said: 1, kept: -1 }) })).toBe(NO_TIMES);
  for (const step of [null, { ...whole.step, looks: 0 }, { ...whole.step, looks: 11 }]) {
    expect(again({ step })).toEqual({ ...whole, step: null });
  }
  expect(again({ step: { ...whole.step, looks: null } })).toEqual({ ...whole, step: null });
  const [seen] = whole.seen;
  const bad = [
    { ...seen, atMs: "1" },
    { ...seen, netW: 1e7 },
    { ...seen, netW: null },
  ];
  const worse = [{ ...seen, socFraction: 1.1 }, { ...seen, socFraction: -0.1 }, 7, null, seen];
  const back = [
    { ...seen, atMs: 9 },
    { ...seen, atMs: 8 },
    { ...seen, socFraction: null },
  ];
  expect(again({ seen: [...bad, ...worse, ...back] })).toEqual({
    ...whole,
    seen: [seen, { ...seen, atMs: 9 }],
  });
  const [said] = whole.said;
  const odd = [{ kind: 9 }, { kind: 0.5 }, { kind: null }, { startMs: null }, { sunsetMs: null }];
  const wrong = [...odd, { sunsetMs: 1 }, { stepW: [1, -1] }, { stepW: [2e6] }, { stepW: ["1"] }];
  const ones = wrong.map((over) => ({ ...said, ...over }));
  expect(again({ said: [...ones, said] })).toEqual(whole);
});

test("nothing that could be in a file makes it throw, and it is sound afterwards", () => {
  fc.assert(
    fc.property(fc.anything(), fc.array(fc.anything()), (saved, list) => {
      restoredTimes(saved);
      const times = restoredTimes({ ...NO_TIMES, seen: list, said: list, step: saved });
      expect(times.days).toEqual(NO_TIMES.days);
    }),
  );
  expect(restoredTimes(undefined)).toBe(NO_TIMES);
});
