/**
 * A load that rests when it likes, in a house that switches when it likes: appliances of the
 * load's own size among them, and several at once.
 */
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { load, MINUTE_MS, TICK_MS } from "./given.ts";
import { Metered } from "./metered-run.ts";

const SEED = 20261128;
const RUNS = Number(process.env["BYWASH_PROPERTY_RUNS"] ?? 300);
const LOAD_W = 1000;
/** More than the load takes: that it rests is never told by how little is used. */
const HOUSE_W = 1500;
/** An edge, and a tick at which it stands still. */
const SEEN_TICKS = 2;

/** What changes, and how many ticks nothing else does. `load`: its own thermostat. */
interface Change {
  readonly what: "load" | number;
  readonly ticks: number;
}

function changes(appliancesW: readonly number[], leastTicks: number) {
  return fc.array(
    fc.record({
      what: fc.constantFrom<"load" | number>("load", "load", ...appliancesW.keys()),
      ticks: fc.oneof(
        fc.integer({ min: leastTicks, max: leastTicks + 3 }),
        fc.integer({ min: leastTicks, max: 240 }),
      ),
    }),
    { minLength: 8, maxLength: 24, size: "max" },
  );
}

class House {
  readonly run = new Metered(
    [load({ stagesW: [LOAD_W], minRunMs: 0, startForMs: 5 * MINUTE_MS })],
    [LOAD_W],
  );
  readonly appliancesW: readonly number[];
  readonly areOn: boolean[];

  constructor(appliancesW: readonly number[]) {
    this.appliancesW = appliancesW;
    this.areOn = appliancesW.map(() => false);
    this.run.baseW = HOUSE_W;
    this.run.pass(6 * MINUTE_MS);
    expect(this.drawing).toBe("draws");
  }

  get drawing() {
    return this.run.memory.loads[0]?.draw.thermostat.drawing;
  }

  get truth(): "draws" | "rests" {
    return this.run.actualW[0] === 0 ? "rests" : "draws";
  }

  make({ what, ticks }: Change): void {
    if (what === "load") this.run.actualW = [this.truth === "draws" ? 0 : LOAD_W];
    else this.areOn[what] = this.areOn[what] !== true;
    this.run.baseW = HOUSE_W;
    for (const [index, powerW] of this.appliancesW.entries()) {
      if (this.areOn[index] === true) this.run.baseW += powerW;
    }
    for (let tick = 0; tick < ticks; tick += 1) {
      const { availableW, batteryPowerW } = this.run.tick(this.run.scene()).site;
      // Whatever is thought of the load: on offer is what the battery is seen to take.
      expect(availableW).toBe(batteryPowerW);
      expect(this.run.stages).toEqual([1]);
    }
  }
}

describe("a load's own thermostat", () => {
  it("is told right at each of its changes in a house of appliances of other sizes", () => {
    const appliancesW = [90, 280, 2500, 600];
    let told = 0;
    fc.assert(
      fc.property(changes(appliancesW, SEEN_TICKS), (all) => {
        const house = new House(appliancesW);
        for (const change of all) {
          house.make(change);
          expect(house.drawing).toBe(house.truth);
          if (change.what === "load") told += 1;
        }
      }),
      { seed: SEED, numRuns: RUNS / 5 },
    );
    expect(told).toBeGreaterThan(RUNS / 2);
  });

  it("is told right again by its next changes, whatever the house has made of it", () => {
    const appliancesW = [1000, 950, 1150, 700, 300];
    let mistaken = 0;
    fc.assert(
      fc.property(changes(appliancesW, 1), (all) => {
        const house = new House(appliancesW);
        for (const change of all) house.make(change);
        if (house.drawing !== house.truth) mistaken += 1;
        // What came on is not waited for any longer, and it draws.
        house.make({ what: 0, ticks: (31 * MINUTE_MS) / TICK_MS });
        house.make({ what: 0, ticks: (31 * MINUTE_MS) / TICK_MS });
        if (house.truth === "rests") house.make({ what: "load", ticks: 200 });
        house.make({ what: "load", ticks: SEEN_TICKS });
        expect(house.drawing).toBe("rests");
        house.make({ what: "load", ticks: SEEN_TICKS });
        expect(house.drawing).toBe("draws");
        house.make({ what: "load", ticks: SEEN_TICKS });
        expect(house.drawing).toBe("rests");
      }),
      { seed: SEED + 1, numRuns: RUNS / 5 },
    );
    // Without mistakes nothing would have been healed.
    expect(mistaken).toBeGreaterThan(RUNS / 50);
  });

  it("is told right by its next start", () => {
    const appliancesW = [1000, 950, 700];
    fc.assert(
      fc.property(changes(appliancesW, 1), (all) => {
        const house = new House(appliancesW);
        for (const change of all) house.make(change);
        house.run.actualW = [LOAD_W];
        house.run.pass(10 * MINUTE_MS, { socFraction: 0.91 });
        expect(house.run.stages).toEqual([0]);
        house.run.pass(40 * MINUTE_MS);
        expect(house.run.stages).toEqual([1]);
        expect(house.drawing).toBe("draws");
      }),
      { seed: SEED + 2, numRuns: RUNS / 10 },
    );
  });
});
