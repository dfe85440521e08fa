/** What a start comes to, in cases that can be checked with pencil and paper. */
import { describe, expect, test } from "vitest";
import { courseWithout } from "../../../service/control/guidance/course.ts";
import type { Start } from "../../../service/control/guidance/starts.ts";
import { appliance, HOUR_MS } from "./given.ts";
import { sketched, startsIn, TAPERING_BATTERY } from "./prospects.ts";

const flat = (powerW: number, steps = 72): readonly number[] =>
  new Array<number>(steps).fill(powerW);
const gradesOf = (starts: readonly Start[]): readonly string[] => starts.map(({ grade }) => grade);
const all = (grade: string, count: number): readonly string[] =>
  new Array<string>(count).fill(grade);

describe("under a flat sun", () => {
  test("1 kW on 1 kW to spare is good from the first step to the last that ends in time", () => {
    const starts = startsIn(sketched({ middleW: flat(1000), curve: 0.5 }), 0.6);
    // 72 steps; a run of an hour takes 6 of them.
    expect(gradesOf(starts)).toEqual(all("good", 67));
    expect(starts[0]).toEqual({
      grade: "good",
      cautiousMissing: 0,
      middleMissing: 0,
      isCautiousBelow: false,
      sunShare: 1,
      takenWh: 0,
      costWh: 0,
      holdsInDoubt: true,
      closedBy: null,
    });
  });

  test("what the sources do not cover comes out of the battery, and a third is too much", () => {
    // 700 W of 1 kW: 0.7 kWh straight, 3 % of the battery.
    const starts = startsIn(sketched({ middleW: flat(700), curve: 0.2 }), 0.6);
    expect(starts[0]).toMatchObject({ grade: "so-so", sunShare: 0.7, isCautiousBelow: false });
    expect(starts[0]?.costWh).toBeCloseTo(300, 9);
    const enough = startsIn(sketched({ middleW: flat(760), curve: 0.2 }), 0.6);
    expect(enough[0]?.grade).toBe("good");
  });

  test("at the battery bus it takes what the inverter loses besides", () => {
    const starts = startsIn(sketched({ middleW: flat(1000), curve: 0.2 }), 0.6, {
      input: { inverterEfficiency: 0.8 },
    });
    expect(starts[0]?.sunShare).toBeCloseTo(0.8, 12);
  });
});

describe("the rule curve is asked at every step", () => {
  const oven = appliance({ profile: [{ powerW: 6000, forMs: HOUR_MS / 2 }] });

  test("a dip that is made good by sunset is missing none the less", () => {
    // 0.55 − (6 − 1) kW · 0.5 h / 10 kWh = 0.30; by sunset, 11.5 h later, it is full.
    const starts = startsIn(sketched({ middleW: flat(1000), curve: 0.5 }), 0.55, {
      appliance: oven,
    });
    expect(starts[0]).toMatchObject({ grade: "costly", isCautiousBelow: true });
    expect(starts[0]?.cautiousMissing).toBeCloseTo(0.2, 9);
    expect(starts[0]?.middleMissing).toBeCloseTo(0.2, 9);
  });

  test("later, when the battery has risen, the same oven is no dip", () => {
    const starts = startsIn(sketched({ middleW: flat(1000), curve: 0.5 }), 0.55, {
      appliance: oven,
    });
    // It needs 0.75 before: 0.2 / (1 kW / 10 kWh) = 2 h = 12 steps.
    const from = starts.findIndex(({ middleMissing }) => middleMissing === 0);
    expect(from).toBe(12);
    // 1 of 6 kW comes straight: the reserve holds, and that is all.
    expect(starts[12]?.grade).toBe("so-so");
  });

  test("what is missing without the appliance is not its doing, but good it is not", () => {
    const starts = startsIn(
      sketched({ middleW: flat(1000), cautiousW: flat(1000), curve: 0.9 }),
      0.5,
    );
    // For an hour the battery stays at 0.5 instead of rising to 0.6, and is 10 % behind from then.
    expect(starts[0]).toMatchObject({ grade: "costly", isCautiousBelow: true });
    expect(starts[0]?.middleMissing).toBeCloseTo(0.1, 9);
  });

  test("a reserve that is short with or without it is said to be short", () => {
    // Two hours of strong sun fill the battery whatever runs; then 4 h · 1 kW take it to 0.6.
    const cautiousW = flat(5000, 36).map((powerW, step) => (step < 12 ? powerW : -1000));
    const prospect = sketched({ middleW: flat(5000, 36), cautiousW, curve: 0.65 });
    const [first] = startsIn(prospect, 0.7);
    expect(first).toMatchObject({ grade: "so-so", isCautiousBelow: true });
    expect(first).toMatchObject({ middleMissing: 0, cautiousMissing: 0 });
  });

  test("a run after the first sunset is followed to the second", () => {
    const middleW = [...flat(2000, 36), ...flat(-200, 72), ...flat(2000, 36)];
    const sunsetSteps = [36, 144];
    const starts = startsIn(sketched({ middleW, sunsetSteps, curve: 0.3 }), 0.9);
    // At night it takes 10 % of the battery, which stays far above 30 %.
    expect(starts[60]).toMatchObject({ grade: "so-so", sunShare: 0, middleMissing: 0 });
    expect(starts[110]).toMatchObject({ grade: "good" });
  });
});

describe("on the sides of the outlook", () => {
  test("short on the cautious side alone is so-so, and says by how much", () => {
    const starts = startsIn(
      sketched({ middleW: flat(1500), cautiousW: flat(400), curve: 0.5 }),
      0.52,
    );
    // 0.52 − 600 Wh / 10 kWh = 0.46.
    expect(starts[0]).toMatchObject({ grade: "so-so", middleMissing: 0, isCautiousBelow: true });
    expect(starts[0]?.cautiousMissing).toBeCloseTo(0.04, 9);
  });

  test("good on the cautious side is not yet good on the doubtful one", () => {
    const starts = startsIn(
      sketched({ middleW: flat(1500), doubtfulW: flat(200), curve: 0.5 }),
      0.55,
    );
    expect(starts[0]).toMatchObject({ grade: "good", holdsInDoubt: false });
  });

  test("a curve that leads to a target is kept by whoever starts on it", () => {
    // On the curve exactly: without the appliance the target is just met, with it it is missed.
    const prospect = sketched({ middleW: flat(500), targetFraction: 0.9 });
    const onCurve = prospect.cautious.curve[0]!;
    expect(onCurve).toBeCloseTo(0.3, 9);
    const [without] = [courseWithout(onCurve, prospect.middle, prospect)];
    expect(without.socFraction.at(-1)).toBeCloseTo(0.9, 9);
    const [first] = startsIn(prospect, onCurve);
    // 1 kWh of 10 is missing at sunset.
    expect(first).toMatchObject({ grade: "costly" });
    expect(first?.middleMissing).toBeCloseTo(0.1, 9);
    const [spared] = startsIn(prospect, onCurve + 0.1 + 1e-9, {});
    expect(spared).toMatchObject({ middleMissing: 0, isCautiousBelow: false });
  });
});

describe("beside the loads", () => {
  test("what is taken from them is what they would have had of it", () => {
    // The battery is full; 2 kW come and the loads want 1.5 kW of them, all day long.
    const prospect = sketched({ middleW: flat(2000), curve: 1, loadsW: 1500 });
    const [first] = startsIn(prospect, 1);
    // For an hour 1 kW is left for the loads instead of 1.5 kW; 0.5 kW would have been lost.
    expect(first).toMatchObject({ grade: "good", sunShare: 1 });
    expect(first?.takenWh).toBeCloseTo(500, 6);
  });

  test("loads that want little more take it later, and lose nothing", () => {
    const prospect = sketched({ middleW: flat(2000), curve: 1, loadsW: 1500, loadsWantWh: 3000 });
    const [first] = startsIn(prospect, 1);
    expect(first?.takenWh).toBeCloseTo(0, 6);
  });

  test("they draw the battery down to their curve before a later start", () => {
    const prospect = sketched({ middleW: flat(0), curve: 0.6, loadsW: 1000 });
    const starts = startsIn(prospect, 0.8);
    // Now 20 % are to spare; two hours later the loads have had them.
    expect(starts[0]).toMatchObject({ middleMissing: 0 });
    expect(starts[12]?.middleMissing).toBeCloseTo(0.1, 9);
  });

  test("tomorrow they are taken to want all there is", () => {
    const prospect = sketched({
      middleW: flat(0, 36),
      curve: 0.5,
      loadsW: 1000,
      loadsWantWh: 0,
      startStep: 132,
    });
    const course = courseWithout(0.8, prospect.middle, prospect);
    expect(course.socFraction[12]).toBe(0.8);
    expect(course.socFraction[24]).toBeCloseTo(0.6, 9);
  });
});

describe("before a full charge that is due", () => {
  const taking = { curve: 0.3, completedAt: 0.97 };

  test("a start that keeps the battery from being full is not good", () => {
    const [first] = startsIn(sketched({ middleW: flat(1000, 30), ...taking }), 0.5);
    // 0.5 + 5 h · 10 % = 1.0 without, 0.9 with.
    expect(first).toMatchObject({ grade: "costly", isCautiousBelow: true });
    expect(first?.middleMissing).toBeCloseTo(0.07, 9);
  });

  test("one that leaves time for it is", () => {
    const [first] = startsIn(sketched({ middleW: flat(1000, 48), ...taking }), 0.5);
    expect(first?.grade).toBe("good");
  });

  test("one after it has been full is", () => {
    const starts = startsIn(sketched({ middleW: flat(1000, 48), ...taking }), 0.99);
    expect(starts[20]?.grade).toBe("good");
  });
});

describe("closed", () => {
  test("outside its hours, by the clock of each start", () => {
    const late = appliance({ latestFinishMinute: 120 });
    const starts = startsIn(sketched({ middleW: flat(2000, 30), curve: 0.2 }), 0.9, {
      appliance: late,
    });
    // From midnight on, done by 2:00: the last start is at 1:00.
    expect(gradesOf(starts)).toEqual([...all("good", 7), ...all("closed", 18)]);
    expect(starts[7]).toMatchObject({ closedBy: "hours", sunShare: 0 });
  });

  test("now is now, not the beginning of the step in which it lies", () => {
    const late = appliance({ latestFinishMinute: 60 });
    const prospect = sketched({ middleW: flat(2000), curve: 0.2 });
    expect(startsIn(prospect, 0.9, { appliance: late })[0]?.grade).toBe("good");
    const input = { nowMs: 60_000 };
    expect(startsIn(prospect, 0.9, { appliance: late, input })[0]?.closedBy).toBe("hours");
  });

  test("by what the inverter carries beside everyday use", () => {
    const prospect = sketched({ middleW: flat(2000), curve: 0.2, baseAcW: 1500 });
    expect(startsIn(prospect, 0.9, { input: { inverterW: 2500 } })[0]?.grade).toBe("good");
    expect(startsIn(prospect, 0.9, { input: { inverterW: 2499 } })[0]).toMatchObject({
      grade: "closed",
      closedBy: "inverter",
    });
  });
});

test("a full battery is filled no further, and what it refuses is no loss to the curve", () => {
  const prospect = sketched({ middleW: flat(3000), battery: TAPERING_BATTERY, curve: 0.9 });
  const course = courseWithout(0.9, prospect.middle, prospect);
  expect(Math.max(...course.socFraction)).toBe(1);
  expect(course.socFraction.at(-1)).toBe(1);
});
