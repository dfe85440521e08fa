/** The record of clearness, what it says of the rest of a day, and how it is held to what came. */
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { restOf, restOfDay } from "../../../service/control/outlook/rest-of-day.ts";
import type { RestInput } from "../../../service/control/outlook/rest-of-day.ts";
import {
  closeDay,
  sayClearness,
  tailFractionOf,
} from "../../../service/control/outlook/said-clearness.ts";
import {
  clearnessOf,
  lookAtSky,
  NO_SKY,
  PARTS,
  withDay,
} from "../../../service/control/outlook/sky-record.ts";
import type { SkyDay, SkyToday } from "../../../service/control/outlook/sky-record.ts";

const even = new Array<number>(PARTS).fill(1000);
const clearDay = { sunriseMs: 0, sunsetMs: 1, powerW: [], partWh: even };

function day(localDay: number, clearness: (part: number) => number): SkyDay {
  return { localDay, clearness: even.map((_, part) => clearness(part)), forecast: null };
}

/** Today as it looks when each part up to `parts` had this clearness. */
function today(localDay: number, parts: number, clearness: (part: number) => number): SkyToday {
  let seen: SkyToday | null = null;
  for (let part = 0; part < parts; part += 1) {
    const measuredWh = 1000 * clearness(part);
    seen = lookAtSky(seen, {
      localDay,
      part,
      measuredWh,
      clearWh: 1000,
      isCertain: true,
      forecast: null,
    });
  }
  return seen!;
}

function ask(over: Partial<RestInput>): RestInput {
  return {
    record: NO_SKY,
    today: null,
    localDay: 100,
    position: 0,
    clearWh: even,
    forecast: null,
    tailFraction: 0.2,
    ...over,
  };
}

describe("looks", () => {
  it("that are certain count as they are", () => {
    const seen = today(1, 3, (part) => 0.2 * (part + 1));
    expect([0, 1, 2].map((part) => clearnessOf(seen, part))).toEqual([
      0.2, 0.4, 0.6000000000000001,
    ]);
    expect(clearnessOf(seen, 3)).toBeNull();
  });

  it("at arrays that are held back count a tenth, at what was last seen", () => {
    const free = today(1, 1, () => 0.8);
    const look = { localDay: 1, clearWh: 1000, isCertain: false, forecast: null };
    const held = lookAtSky(free, { ...look, part: 1, measuredWh: 300 });
    expect(clearnessOf(held, 1)).toBeCloseTo(0.8, 12);
    expect(held.clearWh[1]).toBe(100);
    // Never less than what is delivered.
    const more = lookAtSky(held, { ...look, part: 2, measuredWh: 950 });
    expect(more.heldClearness).toBe(0.95);
    expect(lookAtSky(null, { ...look, part: 2, measuredWh: 950 }).heldClearness).toBeNull();
  });

  it("of another day begin anew", () => {
    const next = lookAtSky(
      today(1, 5, () => 1),
      {
        localDay: 2,
        part: 0,
        measuredWh: 9999,
        clearWh: 1000,
        isCertain: true,
        forecast: null,
      },
    );
    expect(next.clearWh.filter((clearWh) => clearWh > 0)).toHaveLength(1);
    expect(clearnessOf(next, 0)).toBe(1.3);
  });
});

describe("the record", () => {
  it("keeps whole days only, two months of them, and each day once", () => {
    expect(
      withDay(
        [],
        today(1, 3, () => 1),
      ),
    ).toEqual([]);
    let days: readonly SkyDay[] = [];
    for (let localDay = 0; localDay < 80; localDay += 1) {
      days = withDay(
        days,
        today(localDay, 12, () => 0.5),
      );
    }
    expect(days).toHaveLength(60);
    expect(days[0]!.localDay).toBe(20);
    const again = withDay(
      days,
      today(79, 12, () => 0.7),
    );
    expect(again).toHaveLength(60);
    expect(again.at(-1)!.clearness[0]).toBe(0.7);
  });
});

describe("the rest of a day", () => {
  it("without a record, stays as it is with a stated spread", () => {
    const bright = restOfDay(ask({ today: today(100, 6, () => 1), position: 6 }));
    const dull = restOfDay(ask({ today: today(100, 6, () => 0.2), position: 6 }));
    const unknown = restOfDay(ask({}));
    expect(bright.expected).toBeGreaterThan(unknown.expected);
    expect(dull.expected).toBeLessThan(unknown.expected);
    for (const { expected, cautious } of [bright, dull, unknown]) {
      expect(cautious).toBeLessThan(expected);
      expect(cautious).toBeGreaterThanOrEqual(0);
    }
  });

  it("follows the days that began like this one", () => {
    const days: SkyDay[] = [];
    for (let index = 0; index < 40; index += 1) {
      // Bright mornings here are followed by thunder.
      const isBright = index % 2 === 0;
      days.push(day(60 + index, (part) => (part < 6 === isBright ? 0.9 : 0.3)));
    }
    const record = { ...NO_SKY, days };
    const bright = restOfDay(ask({ record, today: today(100, 6, () => 0.9), position: 6 }));
    const dull = restOfDay(ask({ record, today: today(100, 6, () => 0.3), position: 6 }));
    expect(bright.expected).toBeLessThan(0.35);
    expect(dull.expected).toBeGreaterThan(0.85);
  });

  it("gives way to the record between the fourth and the fourteenth day", () => {
    const of = (count: number) => {
      const days = Array.from({ length: count }, (_, index) => day(80 + index, () => 1));
      return restOfDay(ask({ record: { ...NO_SKY, days } })).expected;
    };
    expect(of(4)).toBe(of(0));
    expect(of(9)).toBeCloseTo((of(0) + 1) / 2, 6);
    expect(of(14)).toBeCloseTo(1, 6);
    expect(of(40)).toBeCloseTo(1, 6);
  });

  it("takes parts that are not known as such", () => {
    const days = Array.from({ length: 20 }, (_, index) =>
      day(80 + index, (part) => (part < 6 ? -1 : 0.7)),
    );
    const record = { ...NO_SKY, days };
    const seen = today(100, 6, () => 0.9);
    expect(restOfDay(ask({ record, today: seen, position: 6 })).expected).toBeCloseTo(0.7, 6);
    const blind = { ...NO_SKY, days: days.map(({ localDay }) => day(localDay, () => -1)) };
    expect(restOfDay(ask({ record: blind }))).toEqual(restOfDay(ask({})));
    expect(restOf(days[0]!, { position: 12, clearWh: even })).toBeNull();
  });

  it("is never less cautious for a smaller share of days below, and never above what is likely", () => {
    fc.assert(
      fc.property(
        fc.array(fc.integer({ min: 0, max: 130 }), { minLength: 5, maxLength: 60 }),
        fc.integer({ min: 2, max: 50 }),
        fc.integer({ min: 0, max: 120 }),
        (percents, tail, tenths) => {
          const days = percents.map((percent, index) => day(index, () => percent / 100));
          const input = ask({
            record: { ...NO_SKY, days },
            today: today(100, 4, () => 0.5),
            position: tenths / 10,
          });
          const more = restOfDay({ ...input, tailFraction: tail / 100 });
          const less = restOfDay({ ...input, tailFraction: tail / 200 });
          expect(less.cautious).toBeLessThanOrEqual(more.cautious + 1e-12);
          expect(more.cautious).toBeLessThanOrEqual(more.expected + 1e-12);
        },
      ),
    );
  });
});

describe("what was said", () => {
  const SAID = { position: 3, cautious: 0.5 };

  it("is noted at a quarter, half and three quarters of the day", () => {
    let seen = today(1, 12, () => 0.4);
    seen = sayClearness(seen, { ...SAID, position: 2.9 });
    expect(seen.said).toEqual([]);
    seen = sayClearness(seen, SAID);
    expect(sayClearness(seen, { ...SAID, position: 5.9 })).toBe(seen);
    seen = sayClearness(seen, { ...SAID, position: 7.5 });
    seen = sayClearness(seen, { ...SAID, position: 9.1 });
    expect(sayClearness(seen, { ...SAID, position: 11 })).toBe(seen);
    expect(seen.said.map(({ part }) => part)).toEqual([3, 7, 9]);
  });

  it("makes the outlook more cautious where it was too bright, else a little less", () => {
    const said = (clearness: number) =>
      sayClearness(
        today(1, 12, () => clearness),
        SAID,
      );
    const dull = closeDay({ ...NO_SKY, today: said(0.4) }, clearDay, 0.8);
    const bright = closeDay({ ...NO_SKY, today: said(0.6) }, clearDay, 0.8);
    expect(dull.tailShift).toBeCloseTo(0.02 * (0.2 - 1), 12);
    expect(bright.tailShift).toBeCloseTo(0.02 * 0.2, 12);
    expect(bright.days).toHaveLength(1);
    expect(tailFractionOf(dull, 0.8)).toBeCloseTo(0.184, 12);
  });

  it("keeps the share within reason, however long the luck lasts", () => {
    let record = NO_SKY;
    for (let localDay = 0; localDay < 200; localDay += 1) {
      const seen = sayClearness(
        today(localDay, 12, () => 0.4),
        SAID,
      );
      record = closeDay({ ...record, today: seen }, clearDay, 0.8);
    }
    expect(tailFractionOf(record, 0.8)).toBe(0.02);
    expect(tailFractionOf({ ...NO_SKY, tailShift: 5 }, 0.8)).toBe(0.6);
  });

  it("says nothing of days that are not known, nor without a caution", () => {
    expect(closeDay(NO_SKY, clearDay, 0.8)).toBe(NO_SKY);
    const short = {
      ...NO_SKY,
      today: sayClearness(
        today(1, 3, () => 0.4),
        SAID,
      ),
    };
    expect(closeDay(short, clearDay, 0.8)).toEqual(NO_SKY);
    const whole = {
      ...NO_SKY,
      today: sayClearness(
        today(1, 12, () => 0.4),
        SAID,
      ),
    };
    expect(closeDay(whole, clearDay, null).tailShift).toBe(0);
    const gone = {
      ...NO_SKY,
      today: sayClearness(
        today(1, 5, () => 0.4),
        { ...SAID, position: 9 },
      ),
    };
    expect(closeDay(gone, clearDay, 0.8).tailShift).toBe(0);
  });
});
