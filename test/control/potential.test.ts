import { describe, expect, it } from "vitest";
import type { ChargeState } from "../../service/control/charge-stage.ts";
import type { Observation, SourceObservation } from "../../service/control/observation.ts";
import { heldClearness } from "../../service/control/held-clearness.ts";
import { judgePotential } from "../../service/control/potential.ts";
import type { PotentialFigures } from "../../service/control/potential.ts";
import { initialPotential } from "../../service/control/potential-memory.ts";
import type { PotentialMemory } from "../../service/control/potential-memory.ts";
import type { ControlSettings } from "../../service/control/settings.ts";
import { fractionAt, sunAt } from "../../service/control/site-response.ts";
import { modelPowerW } from "../../service/solar/array-model.ts";
import { fresh, HOUR_MS, lfpBattery, lost, MINUTE_MS, observe, site } from "./given.ts";

const settings = site();
const DAY_MS = 24 * HOUR_MS;
const BULK: ChargeState = {
  stage: "bulk",
  isAtSetpoint: false,
  isFull: false,
  tailSinceMs: null,
};
const FLOAT: ChargeState = { ...BULK, stage: "float", isAtSetpoint: true };
const unmapped = { value: 0, quality: "unmapped", ageMs: 0 } as const;

interface Minute {
  readonly charge?: ChargeState;
  /** Measured over the model. */
  readonly share?: number;
  readonly powerW?: number;
  readonly generatorAtMs?: number | null;
  readonly source?: Partial<SourceObservation>;
  readonly over?: Partial<Observation>;
  readonly currentA?: number;
  readonly voltageV?: number;
  readonly settings?: ControlSettings;
}

function modelAt(atMs: number, of: ControlSettings = settings): number {
  const [array] = of.sources;
  if (array?.kind !== "array") throw new Error("the site has an array first");
  return modelPowerW(array, of, observe(of, atMs).wallMs);
}

const HELD = heldClearness({ clearness: 1.05, forMs: MINUTE_MS, givenFraction: 0 });

/** A shed's minutes; time 0 is noon. */
class Shed {
  memory: PotentialMemory = initialPotential(settings);
  figures: PotentialFigures | null = null;

  minute(atMs: number, given: Minute = {}): PotentialFigures {
    const of = given.settings ?? settings;
    const observation = observe(of, atMs, {
      arrayW: given.powerW ?? (given.share ?? 0.8) * modelAt(atMs, of),
      currentA: given.currentA ?? 20,
      voltageV: given.voltageV ?? 53,
    });
    const { memory, figures } = judgePotential(
      this.memory,
      {
        ...observation,
        sources: observation.sources.map((source) => ({ ...source, ...given.source })),
        ...given.over,
      },
      {
        settings: of,
        charge: given.charge ?? BULK,
        generatorAtMs: given.generatorAtMs ?? null,
        dtMs: MINUTE_MS,
      },
    );
    this.memory = memory;
    this.figures = figures;
    return figures;
  }

  minutes(fromMs: number, toMs: number, given: (atMs: number) => Minute = () => ({})): this {
    for (let atMs = fromMs; atMs < toMs; atMs += MINUTE_MS) this.minute(atMs, given(atMs));
    return this;
  }

  responseAt(atMs: number): number {
    const response = this.memory.responses[0];
    if (response === undefined) throw new Error("the site has an array");
    const [array] = settings.sources;
    if (array?.kind !== "array") throw new Error("the site has an array first");
    return fractionAt(response, sunAt(array, settings, observe(settings, atMs).wallMs));
  }
}

describe("what a site's arrays are learned to give", () => {
  it("is what dirt leaves of the model", () => {
    const shed = new Shed().minutes(0, 10 * DAY_MS);
    expect(shed.responseAt(10 * DAY_MS)).toBeCloseTo(0.8, 1);
    expect(shed.responseAt(10 * DAY_MS + 3 * HOUR_MS)).toBeCloseTo(0.8, 1);
  });

  it("has a tree where the sun is hidden on every clear day, and nowhere else", () => {
    const behindMs = 3 * HOUR_MS;
    const isHidden = (atMs: number) => Math.abs((atMs % DAY_MS) - behindMs) < 30 * MINUTE_MS;
    const shed = new Shed().minutes(0, 14 * DAY_MS, (atMs) => ({
      share: isHidden(atMs) ? 0.2 : 1,
    }));
    expect(shed.responseAt(14 * DAY_MS + behindMs)).toBeLessThan(0.4);
    expect(shed.responseAt(14 * DAY_MS)).toBeGreaterThan(0.9);
    expect(shed.responseAt(14 * DAY_MS + 5 * HOUR_MS)).toBeGreaterThan(0.9);
  });

  it("is not forgotten under a week of fog, nor under snow", () => {
    const shed = new Shed().minutes(0, 5.5 * DAY_MS, () => ({ share: 0.9 }));
    const before = shed.responseAt(0);
    shed.minutes(5.5 * DAY_MS, 12 * DAY_MS, () => ({ share: 0.15 }));
    expect(shed.responseAt(0)).toBeGreaterThan(0.85 * before);
    shed.minutes(12 * DAY_MS, 15 * DAY_MS, () => ({ share: 0.02 }));
    expect(shed.responseAt(0)).toBeGreaterThan(0.85 * before);
  });

  it("stays within bounds whatever is measured", () => {
    const shed = new Shed().minutes(0, DAY_MS, () => ({ powerW: 60_000 }));
    expect(shed.responseAt(0)).toBeLessThanOrEqual(3);
  });

  it.each<[string, Minute]>([
    ["in absorption", { charge: { ...BULK, stage: "absorption", isAtSetpoint: true } }],
    ["in float", { charge: FLOAT }],
    [
      "that floats while the battery comes down to it",
      { charge: FLOAT, currentA: -30, voltageV: 54 },
    ],
    ["whose own controller says absorption", { source: { chargeStage: fresh("absorption") } }],
    ["whose power is stale", { source: { powerW: lost(3000) } }],
    ["whose power is frozen", { source: { powerW: lost(3000, "frozen") } }],
    ["whose power is implausible", { source: { powerW: lost(3000, "implausible") } }],
    ["while the generator runs", { over: { isGeneratorRunning: fresh(true) } }],
    ["minutes after the generator ran", { generatorAtMs: 0 }],
    ["while charge is blocked", { over: blocked() }],
    ["while the clock is in doubt", { over: { isWallClockPlausible: false } }],
    ["while the battery's voltage is lost", { over: withBattery({ voltageV: lost(53) }) }],
    ["while the battery's current is lost", { over: withBattery({ currentA: lost(20) }) }],
    ["at the battery's charge limit", { settings: limited(), currentA: 39 }],
    ["at its controller's limit", { settings: controller(), powerW: 40 * 53 * 0.97 }],
  ])("learns nothing from an array %s", (_name, given) => {
    const shed = new Shed().minutes(-HOUR_MS, -MINUTE_MS);
    // The stretch that was still open ends first.
    shed.minutes(0, 6 * MINUTE_MS, () => ({ charge: FLOAT }));
    const { responses, sky } = shed.memory;
    const first = 6 * MINUTE_MS;
    shed.minutes(first, first + 4 * MINUTE_MS, () => ({ share: 0.5, ...given }));
    expect(shed.memory.responses).toBe(responses);
    expect(shed.memory.sky).toBe(sky);
  });

  it.each<[string, Minute]>([
    ["the generator has been off for long", { generatorAtMs: -HOUR_MS }],
    ["the generator stands still", { over: { isGeneratorRunning: fresh(false) } }],
    ["its own controller says bulk", { charge: FLOAT, source: { chargeStage: fresh("bulk") } }],
    ["the battery has to give, whatever the stage", { charge: FLOAT, currentA: -30 }],
    ["it is under its limits", { settings: controller(), powerW: 1500 }],
  ])("learns while %s", (_name, given) => {
    const shed = new Shed().minutes(0, 11 * MINUTE_MS, () => ({ share: 0.5, ...given }));
    expect(shed.memory.sky.clearness).not.toBeNull();
    expect(shed.memory.slot).not.toBeNull();
  });

  it("forgets the open stretch when the clock turns out wrong", () => {
    const shed = new Shed().minutes(0, 3 * MINUTE_MS);
    expect(shed.memory.slot).not.toBeNull();
    shed.minute(3 * MINUTE_MS, { over: { isWallClockPlausible: false } });
    expect(shed.memory.slot).toBeNull();
    expect(shed.figures?.potentialW).toBeNull();
  });

  it("costs nothing at night and while it learns nothing", () => {
    const shed = new Shed().minutes(0, HOUR_MS);
    shed.minutes(HOUR_MS, HOUR_MS + 6 * MINUTE_MS, () => ({ charge: FLOAT }));
    const { memory } = shed;
    shed.minute(HOUR_MS + 7 * MINUTE_MS, { charge: FLOAT });
    expect(shed.memory).toBe(memory);
    shed.minute(12 * HOUR_MS);
    expect(shed.memory).toBe(memory);
  });

  it("leaves the first light out", () => {
    // 06:00 by the clock: the sun is just up.
    const shed = new Shed().minutes(-6 * HOUR_MS, -6 * HOUR_MS + 6 * MINUTE_MS, () => ({
      share: 0.1,
    }));
    expect(shed.memory).toStrictEqual(initialPotential(settings));
  });
});

describe("what the sources could give", () => {
  it("is what they deliver while nothing holds them back", () => {
    const figures = new Shed().minute(0, { powerW: 3000 });
    expect(figures).toStrictEqual({
      potentialLowW: 3000,
      potentialW: 3000,
      potentialHighW: 3000,
      hiddenLowW: 0,
      hiddenStartW: 0,
    });
  });

  it("is not known before the sky was seen once", () => {
    const figures = new Shed().minute(0, { charge: FLOAT });
    expect(figures.potentialW).toBeNull();
    expect(figures.hiddenLowW).toBe(0);
  });

  it("is not known without the array's power or the battery's voltage", () => {
    const shed = new Shed().minutes(0, HOUR_MS);
    const stale = { charge: FLOAT, source: { powerW: lost(3000) } };
    expect(shed.minute(HOUR_MS, stale).potentialW).toBeNull();
    const blind = { charge: FLOAT, over: withBattery({ voltageV: lost(53) }) };
    expect(shed.minute(HOUR_MS, blind).potentialW).toBeNull();
  });

  it("is told near enough under a throttle, after clear days", () => {
    const shed = new Shed().minutes(0, 10 * DAY_MS);
    const figures = shed.minute(10 * DAY_MS, { charge: FLOAT, powerW: 400 });
    const truthW = 0.8 * modelAt(10 * DAY_MS);
    expect(Math.abs((figures.potentialW ?? 0) / truthW - 1)).toBeLessThan(0.08);
    expect(figures.potentialLowW).toBeLessThan(truthW);
    expect(figures.potentialHighW).toBeGreaterThan(truthW);
    expect(figures.hiddenLowW).toBeCloseTo((figures.potentialLowW ?? 0) - 400, 6);
  });

  it("follows the sky within about ten minutes, and believes no array without bounds", () => {
    const shed = new Shed().minutes(0, HOUR_MS, () => ({ share: 1 }));
    shed.minutes(HOUR_MS, HOUR_MS + 10 * MINUTE_MS, () => ({ share: 0.5 }));
    expect(shed.memory.sky.clearness).toBeGreaterThan(0.6);
    expect(shed.memory.sky.clearness).toBeLessThan(0.8);
    const wild = new Shed().minutes(0, MINUTE_MS, () => ({ powerW: 60_000 }));
    expect(wild.memory.sky.clearness).toBe(3);
  });

  it("may be less by a tenth where the sun was not seen yet, and more by a share of the peak", () => {
    const shed = new Shed().minutes(0, 3 * MINUTE_MS, () => ({ share: 1.05 }));
    const figures = shed.minute(3 * MINUTE_MS, { charge: FLOAT, powerW: 0 });
    const { potentialLowW, potentialW, potentialHighW } = figures;
    const modelW = modelAt(3 * MINUTE_MS);
    expect((potentialLowW ?? 0) / modelW).toBeGreaterThan(0.89 * HELD.low);
    expect((potentialLowW ?? 0) / modelW).toBeLessThan(0.92 * HELD.low);
    const aboveW = (potentialHighW ?? 0) - (potentialW ?? 0);
    const peakW = settings.sources[0]?.peakW ?? NaN;
    expect(aboveW / peakW).toBeCloseTo(HELD.abovePeakFraction, 6);
  });

  it("is the brighter the more the held-back arrays give together", () => {
    const shed = new Shed().minutes(0, HOUR_MS, () => ({ share: 0.3 }));
    const { memory } = shed;
    const lowAt = (powerW: number): number => {
      shed.memory = memory;
      return shed.minute(2 * HOUR_MS, { charge: FLOAT, powerW }).potentialLowW ?? NaN;
    };
    expect(lowAt(3000)).toBeGreaterThan(lowAt(1500) + 1000);
  });

  it("counts more for a start than what is as good as certain, and less than the middle", () => {
    const shed = new Shed().minutes(0, HOUR_MS, () => ({ share: 0.9 }));
    const figures = shed.minute(3 * HOUR_MS, { charge: FLOAT, powerW: 400 });
    expect(figures.hiddenStartW).toBeGreaterThan(figures.hiddenLowW);
    expect(figures.hiddenStartW).toBeLessThan((figures.potentialW ?? 0) - 400);
  });

  it("is not learned from a stretch of which two minutes in five were held back", () => {
    const shed = new Shed().minutes(0, 3 * MINUTE_MS, () => ({ share: 0.5 }));
    shed.minutes(3 * MINUTE_MS, 11 * MINUTE_MS, () => ({ charge: FLOAT }));
    expect(shed.memory.responses).toStrictEqual(initialPotential(settings).responses);
    const whole = new Shed().minutes(0, 4 * MINUTE_MS, () => ({ share: 0.5 }));
    whole.minutes(4 * MINUTE_MS, 11 * MINUTE_MS, () => ({ charge: FLOAT }));
    expect(whole.memory.responses).not.toStrictEqual(initialPotential(settings).responses);
  });

  it("has a range that widens with time", () => {
    const shed = new Shed().minutes(0, HOUR_MS, () => ({ share: 1 }));
    const at = (sinceMs: number) => shed.minute(HOUR_MS + sinceMs, { charge: FLOAT, powerW: 0 });
    const soon = at(MINUTE_MS);
    const later = at(2 * HOUR_MS);
    const share = ({ potentialLowW, potentialW }: PotentialFigures) =>
      (potentialLowW ?? 0) / (potentialW ?? 1);
    expect(share(later)).toBeLessThan(share(soon));
  });

  it("is nothing by night, and unknown where an array then says nothing of itself", () => {
    const night: Partial<PotentialFigures> = { potentialLowW: 0, potentialHighW: 0, hiddenLowW: 0 };
    const shed = new Shed().minutes(0, HOUR_MS);
    expect(shed.minute(12 * HOUR_MS, { powerW: 0 })).toMatchObject(night);
    const { memory } = shed;
    expect(shed.minute(12 * HOUR_MS + MINUTE_MS, { powerW: 0 })).toMatchObject(night);
    expect(shed.memory).toBe(memory);
    const silent = shed.minute(12 * HOUR_MS, { source: { powerW: lost(0) } });
    expect(silent.potentialHighW).toBeNull();
    // Moonlight, or a meter that shows something for nothing.
    expect(shed.minute(12 * HOUR_MS, { powerW: 3 }).potentialLowW).toBe(3);
  });

  it("is never less than what is measured, nor more than the controller lets through", () => {
    const of = controller();
    const shed = new Shed().minutes(-5 * HOUR_MS, -3 * HOUR_MS, () => ({ share: 0.3 }));
    const seen = shed.minute(0, { charge: FLOAT, powerW: 2000, settings: of });
    expect(seen.potentialLowW).toBeGreaterThanOrEqual(2000);
    expect(seen.potentialHighW).toBe(40 * 53);
  });

  it("holds a turbine's dump, and is not known without the turbine's power", () => {
    const of = site({ sources: [{ id: "stream", kind: "hydro", peakW: 800 }] });
    const shed = new Shed();
    shed.memory = initialPotential(of);
    const look = (source: Partial<SourceObservation>) =>
      judgePotential(shed.memory, withSource(of, source), {
        settings: of,
        charge: FLOAT,
        generatorAtMs: null,
        dtMs: MINUTE_MS,
      }).figures;
    const known = look({ powerW: fresh(500), dumpPowerW: fresh(200) });
    expect(known).toMatchObject({ potentialLowW: 700, potentialW: 700, potentialHighW: 700 });
    expect(look({ powerW: lost(500), dumpPowerW: fresh(200) }).potentialW).toBeNull();
    // Nobody sees what its dump burns: it may be all up to what the turbine can give.
    const unseen = look({ powerW: fresh(500), dumpPowerW: unmapped });
    expect(unseen).toMatchObject({ potentialLowW: 500, potentialW: 500, potentialHighW: 800 });
    const beyond = look({ powerW: fresh(900), dumpPowerW: lost(200) });
    expect(beyond).toMatchObject({ potentialLowW: 900, potentialHighW: 900 });
  });
});

function withSource(of: ControlSettings, source: Partial<SourceObservation>): Observation {
  const seen = observe(of, 0);
  return { ...seen, sources: seen.sources.map((one) => ({ ...one, ...source })) };
}

function withBattery(over: Partial<Observation["battery"]>): Partial<Observation> {
  const { battery } = observe(settings, 0, { currentA: 20, voltageV: 53 });
  return { battery: { ...battery, ...over } };
}

function blocked(): Partial<Observation> {
  return withBattery({ isChargeBlocked: fresh(true) });
}

function limited(): ControlSettings {
  return site({ battery: lfpBattery({ chargeLimitA: 40 }) });
}

function controller(): ControlSettings {
  const [array] = settings.sources;
  if (array?.kind !== "array") throw new Error("the site has an array first");
  return site({ sources: [{ ...array, currentLimitA: 40 }] });
}
