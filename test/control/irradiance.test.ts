import fc from "fast-check";
import { describe, expect, it } from "vitest";
import type { ChargeState } from "../../service/control/charge-stage.ts";
import {
  sensedRange,
  sensorFactorAfter,
  sensorSpreadAfter,
} from "../../service/control/irradiance.ts";
import { judgePotential } from "../../service/control/potential.ts";
import type { PotentialFigures } from "../../service/control/potential.ts";
import { initialPotential } from "../../service/control/potential-memory.ts";
import type { PotentialMemory } from "../../service/control/potential-memory.ts";
import type { Quality } from "../../service/control/observation.ts";
import { modelPowerW } from "../../service/solar/array-model.ts";
import { MINUTE_MS, observe, site } from "./given.ts";

const irradianceSensor = { peakW: 1000, tiltDeg: 30, azimuthDeg: 180 } as const;
const settings = site({ irradianceSensor });
const BULK: ChargeState = { stage: "bulk", isAtSetpoint: false, isFull: false, tailSinceMs: null };
const FLOAT: ChargeState = { ...BULK, stage: "float", isAtSetpoint: true };
const SEEN_UNTIL = 60 * MINUTE_MS;

interface Minute {
  readonly atMs: number;
  /** Measured over the model. */
  readonly share: number;
  /** Of the light of a clear sky; null: nothing is measured. */
  readonly light: number | null;
  readonly charge: ChargeState;
  readonly quality?: Quality;
  readonly control?: typeof settings;
}

function modelAt(wallMs: number): number {
  const [array] = settings.sources;
  if (array?.kind !== "array") throw new Error("the site has an array first");
  return modelPowerW(array, settings, wallMs);
}

function minute(memory: PotentialMemory, given: Minute) {
  const { atMs, share, light, charge } = given;
  const control = given.control ?? settings;
  const { wallMs } = observe(control, atMs);
  const clearWm2 = modelPowerW(irradianceSensor, settings, wallMs);
  const observation = {
    ...observe(control, atMs, { arrayW: share * modelAt(wallMs), currentA: 20, voltageV: 53 }),
    irradianceWm2: {
      value: (light ?? 0) * clearWm2,
      quality: light === null ? "stale" : (given.quality ?? "fresh"),
      ageMs: 0,
    },
  } as const;
  return judgePotential(memory, observation, {
    settings: control,
    charge,
    generatorAtMs: null,
    dtMs: MINUTE_MS,
  });
}

interface Day {
  readonly seenForMs?: number;
  readonly seenLight: number | null;
  readonly seenShare?: number;
  readonly hiddenLight: number | null;
  readonly quality?: Quality;
  readonly control?: typeof settings;
}

/** From noon on an hour in the open, then ten minutes held back to next to nothing. */
function afterAnHour(day: Day): { readonly figures: PotentialFigures; readonly modelW: number } {
  let memory = initialPotential(settings);
  const over = day.control === undefined ? {} : { control: day.control };
  for (let atMs = 0; atMs < SEEN_UNTIL; atMs += MINUTE_MS) {
    const share = day.seenShare ?? 0.8;
    const light = atMs < (day.seenForMs ?? SEEN_UNTIL) ? day.seenLight : null;
    memory = minute(memory, { atMs, share, light, charge: BULK, ...over }).memory;
  }
  const atMs = SEEN_UNTIL + 10 * MINUTE_MS;
  const quality = day.quality ?? "fresh";
  const light = day.hiddenLight;
  const given = { atMs, share: 0.1, light, quality, charge: FLOAT, ...over };
  const { figures } = minute(memory, given);
  return { figures, modelW: modelAt(observe(settings, atMs).wallMs) };
}

const WITHOUT = afterAnHour({ seenLight: null, hiddenLight: null }).figures;

describe("a light sensor while arrays are held back", () => {
  it("tells how clear it is by what the arrays showed beside it", () => {
    const of = (day: Day) => {
      const { figures, modelW } = afterAnHour(day);
      const { potentialLowW: lowW, potentialW, potentialHighW: highW } = figures;
      return [lowW, potentialW, highW].map((powerW) => (powerW ?? NaN) / modelW);
    };
    // Half the light, half the power; what is seen goes into the site's response, too, a little.
    const [low = NaN, middle = NaN, high = NaN] = of({ seenLight: 0.8, hiddenLight: 0.4 });
    expect(Math.abs(middle - 0.4)).toBeLessThan(0.02);
    expect(low).toBeLessThan(0.8 * middle);
    expect(high).toBeGreaterThan(1.05 * middle);
    const [, bright = NaN] = of({ seenLight: 0.8, hiddenLight: 0.8 });
    expect(bright).toBeCloseTo(2 * middle, 6);
    // One that shows more than the arrays do is taken down, though not all the way.
    const [, over = NaN] = of({ seenLight: 1.6, hiddenLight: 0.8 });
    expect(over).toBeGreaterThan(0.5 * bright);
    expect(over).toBeLessThan(0.95 * bright);
  });

  it("says nothing while the sun is too low to tell", () => {
    let memory = initialPotential(settings);
    for (let atMs = 0; atMs < SEEN_UNTIL; atMs += MINUTE_MS) {
      memory = minute(memory, { atMs, share: 0.8, light: 0.8, charge: BULK }).memory;
    }
    const clearWm2 = (atMs: number) =>
      modelPowerW(irradianceSensor, settings, observe(settings, atMs).wallMs);
    const at = (atMs: number, light: number) =>
      minute(memory, { atMs, share: 0.1, light, charge: FLOAT }).figures;
    let atMs = SEEN_UNTIL + 10 * MINUTE_MS;
    expect(at(atMs, 0.3)).not.toStrictEqual(at(atMs, 0.7));
    while (clearWm2(atMs) >= 100) atMs += MINUTE_MS;
    expect(clearWm2(atMs)).toBeGreaterThan(50);
    expect(at(atMs, 0.3)).toStrictEqual(at(atMs, 0.7));
    expect(at(atMs, 0.3).potentialW).toBeGreaterThan(0);
  });

  it("may show too little by any factor, as long as it stays the same", () => {
    const right = afterAnHour({ seenLight: 0.8, hiddenLight: 0.6 }).figures;
    fc.assert(
      fc.property(fc.double({ min: 0.25, max: 0.99, noNaN: true }), (factor) => {
        const given = { seenLight: 0.8 * factor, hiddenLight: 0.6 * factor };
        const { potentialLowW, potentialW } = afterAnHour(given).figures;
        expect(potentialLowW).toBeCloseTo(right.potentialLowW ?? NaN, 6);
        expect(potentialW).toBeCloseTo(right.potentialW ?? NaN, 6);
      }),
      { numRuns: 30 },
    );
  });

  it("in the dark of it nothing is promised but what is measured", () => {
    const { figures, modelW } = afterAnHour({ seenLight: 0.8, hiddenLight: 0 });
    expect(figures.hiddenLowW).toBe(0);
    expect(figures.potentialHighW).toBeCloseTo(0.1 * modelW, 6);
    expect(afterAnHour({ seenLight: 0.8, hiddenLight: -0.02 }).figures).toEqual(figures);
  });

  it("never more than there can be beside a bright cloud", () => {
    const { figures, modelW } = afterAnHour({ seenLight: 0.8, hiddenLight: 20 });
    expect((figures.potentialW ?? 0) / modelW).toBeLessThan(1.31);
  });

  it.each<Quality>(["stale", "frozen", "implausible", "retained", "waiting", "unmapped"])(
    "%s: what was seen last counts, as on a site without one",
    (quality) => {
      const day = { seenLight: 0.8, hiddenLight: 0.2, quality };
      expect(afterAnHour(day).figures).toEqual(WITHOUT);
    },
  );

  it.each([
    {
      name: "it was seen with them for too short a time",
      seenForMs: 20 * MINUTE_MS,
      seenLight: 0.8,
      hiddenLight: 0.8,
    },
    { name: "it was not there while the arrays were seen", seenLight: null, hiddenLight: 0.8 },
    { name: "it lay in the dark then", seenLight: 0, hiddenLight: 0.8 },
    { name: "the settings have none", seenLight: 1, hiddenLight: 0.1, control: site() },
  ])("is left out: $name", ({ name: _name, ...day }) => {
    expect(afterAnHour(day).figures).toEqual(WITHOUT);
  });

  it("under a low sun it has nothing to say", () => {
    const night = 12 * 60 * MINUTE_MS;
    const given = { atMs: night, share: 0.5, light: 0.5, charge: BULK };
    expect(minute(initialPotential(settings), given).memory.sky.sensorSeenMs).toBe(0);
  });

  it("arrays that give nothing in the light are taken as they are", () => {
    const { figures, modelW } = afterAnHour({ seenShare: 0, seenLight: 0.8, hiddenLight: 0.8 });
    // The factor has its least; nothing above what is measured would be started on.
    expect(figures.potentialLowW).toBeLessThan(0.2 * modelW);
  });

  it("a tick of no length teaches nothing", () => {
    const { sky } = initialPotential(settings);
    const together = { seen: 0.5, sensed: 1, dtMs: 0 };
    expect(sensorFactorAfter(sky, together)).toBe(1);
  });

  describe("its low end", () => {
    const { sky } = initialPotential(settings);
    const known = { ...sky, sensorFactor: 0.9, sensorSeenMs: 60 * MINUTE_MS };
    const moment = { seen: 0.9, sensed: 1, dtMs: MINUTE_MS, height: 0.8 };
    const lowBy = (sensorSpread: number) =>
      (sensedRange(0.5, { ...known, sensorSpread })?.low ?? NaN) / (0.9 * 0.5);

    /** After so many hours of such moments, one like the other. */
    function spreadAfter(hours: number, over: Partial<typeof moment>): number {
      let after = known;
      for (let minutes = 0; minutes < hours * 60; minutes += 1) {
        after = { ...after, sensorSpread: sensorSpreadAfter(after, { ...moment, ...over }) };
      }
      return after.sensorSpread;
    }

    it("is the nearer to what it shows, the better arrays and sensor agreed", () => {
      expect(lowBy(0)).toBeCloseTo(0.98, 9);
      expect(lowBy(0.05)).toBeCloseTo(0.88, 9);
      expect(lowBy(sky.sensorSpread)).toBeCloseTo(0.78, 9);
      expect(lowBy(1)).toBe(0.7);
    });

    it("comes up within some days of arrays that always showed as much", () => {
      expect(spreadAfter(40, {})).toBeLessThan(0.02);
      expect(spreadAfter(40, { seen: 1.3 })).toBeLessThan(0.02);
    });

    it("follows arrays that show less at times", () => {
      expect(spreadAfter(100, { seen: 0.9 * 0.8 })).toBeCloseTo(0.2, 3);
      expect(spreadAfter(400, { seen: -3 })).toBeLessThanOrEqual(1);
    });

    it.each([
      ["no sensor", { sensed: null }, known],
      ["a sensor in the dark", { sensed: 0.09 }, known],
      ["a sensor that was hardly seen with them", {}, { ...known, sensorSeenMs: 29 * MINUTE_MS }],
      ["a sun on the horizon", { height: 0 }, known],
      ["a tick of no length", { dtMs: 0 }, known],
    ] as const)("learns nothing of %s", (_name, over, before) => {
      const after = sensorSpreadAfter(before, { ...moment, seen: 0.2, ...over });
      expect(after).toBe(before.sensorSpread);
    });

    it("counts a low sun for little", () => {
      const risen = (height: number) => spreadAfter(1, { seen: 0.45, height }) - sky.sensorSpread;
      expect(risen(0.4) / risen(0.8)).toBeCloseTo(0.25, 1);
      expect(risen(2)).toBe(risen(1));
    });
  });
});
