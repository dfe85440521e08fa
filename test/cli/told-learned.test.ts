import { describe, expect, it } from "vitest";
import { initialMemory } from "../../service/control/memory.ts";
import type { Memory } from "../../service/control/memory.ts";
import { ALTITUDE_CELLS } from "../../service/control/potential-memory.ts";
import { learnedJsonSchema } from "../../service/cli/learned-schema.ts";
import { tellLearned } from "../../service/cli/told-learned.ts";
import { buildLearnedView } from "../../service/learned-view.ts";
import { learnedSchema } from "../../service/web/routes/learned-document.ts";
import { DEFAULT_WALL_MS } from "../support/manual-clock.ts";
import { testSite } from "../support/site.ts";

const site = testSite();
const blank = initialMemory(site.control, 0);

/** Sun from 60° to 309°, all heights to 70°; one cell was never reached. */
function wideSky(): Memory {
  const cells = (blank.potential.responses[0]?.cells ?? []).map((_, cell) => {
    const azimuth = Math.floor(cell / ALTITUDE_CELLS);
    const altitude = cell % ALTITUDE_CELLS;
    const isSeen = azimuth >= 6 && azimuth <= 30 && altitude < 14;
    return isSeen && !(azimuth === 17 && altitude === 13) ? (azimuth === 17 ? 0.453 : 1.042) : null;
  });
  return {
    ...blank,
    potential: {
      ...blank.potential,
      responses: blank.potential.responses.map((one) => ({ ...one, generalFraction: 0.9, cells })),
      sky: { ...blank.potential.sky, clearness: 0.876 },
    },
    outlook: {
      ...blank.outlook,
      base: {
        ...blank.outlook.base,
        meanW: blank.outlook.base.meanW.map((_, hour) => 400 + hour),
        seen: blank.outlook.base.seen.map(() => 5),
      },
      sky: {
        ...blank.outlook.sky,
        days: [
          {
            localDay: 20_619,
            clearness: [-1, 0.5, 0.6, 1, 1, 1, 1, 1, 1, 1, 1, 1.1],
            forecast: null,
          },
        ],
      },
    },
    loads: blank.loads.map((load, index) =>
      index === 0 ? { ...load, draw: { ...load.draw, learnedW: [980, null] } } : load,
    ),
  };
}

/** Each of them came as it was forecast. */
function forecastDays(count: number): Memory {
  const days = Array.from({ length: count }, (_, index) => ({
    localDay: 20_500 + index,
    clearness: new Array<number>(12).fill(index / count),
    forecast: index / count,
  }));
  return { ...blank, outlook: { ...blank.outlook, sky: { ...blank.outlook.sky, days } } };
}

const textOf = (memory: Memory | null): string =>
  tellLearned(buildLearnedView(site, memory, DEFAULT_WALL_MS));

describe("what was learned, as text", () => {
  it("is a table by where the sun stands, as wide as a terminal, low sun at the bottom", () => {
    const text = textOf(wideSky());
    expect(text.split("\n").filter((line) => line.length > 80)).toEqual([]);
    const feet = text.split("\n").filter((line) => line.startsWith(" azimuth"));
    expect(feet).toHaveLength(2);
    expect(feet[0]).toMatch(/^ azimuth {2}60 {2}70 /u);
    expect(feet[1]).toMatch(/ 300$/u);
    const rows = text.split("\n").filter((line) => /^ +\d+° /u.test(line));
    expect(rows).toHaveLength(28);
    expect(rows[0]).toMatch(/^ {5}65° 104 104 .* 104 {3}\. 104 /u);
    expect(rows[13]).toMatch(/^ {6}0° 104 104 .* 104 {2}45 104 /u);
  });

  it("tells everyday use, the sky's record and what loads draw", () => {
    const text = textOf(wideSky());
    expect(text).toContain("Everyday use by the hour, at the battery:");
    expect(text).toMatch(/^ {3}0 h {4}400 W ±/mu);
    expect(text).toMatch(/11 h .* {6} {2}23 h {4}423 W ±/u);
    expect(text).toContain("88 % of what is expected");
    expect(text).toMatch(/2026-06-15 {3}\. {2}50 {2}60 100 .* 110$/mu);
    expect(text).toMatch(/water-heater: 980 W \(rated \d+ W\), not seen \(rated \d+ W\)/u);
  });

  it.each([
    [[801, null], false],
    [[799, null], true],
    [[1200, null], false],
    [[null, 2401], true],
  ])("asks to look where a load of 1 and 2 kW draws %j W: %s", (learnedW, isFar) => {
    const memory = {
      ...blank,
      loads: blank.loads.map((load, index) =>
        index === 0 ? { ...load, draw: { ...load.draw, learnedW } } : load,
      ),
    };
    const text = textOf(memory).replaceAll(/\s+/gu, " ");
    expect(text.includes("far from what the settings say: see which is right")).toBe(isFar);
    expect(text.includes("water-heater: ")).toBe(true);
  });

  it("tells how arrays and light sensor compare, where they were seen together", () => {
    const { potential } = wideSky();
    expect(textOf(wideSky())).not.toContain("light sensor");
    const sky = { ...potential.sky, sensorFactor: 0.93, sensorSeenMs: 60_000, sensorSpread: 0.04 };
    const text = textOf({ ...wideSky(), potential: { ...potential, sky } });
    expect(text.replaceAll(/\s+/gu, " ")).toContain(
      "The arrays show 93 % of the clearness that the light sensor shows, and fall short of that " +
        "by 4 % on the mean.",
    );
    expect(text.split("\n").filter((line) => line.length > 80)).toEqual([]);
  });

  it("tells what a lead-acid battery loses towards full, and of lithium nothing", () => {
    expect(textOf(wideSky())).not.toContain("Battery");
    const battery = { ...site.control.battery, chemistry: "flooded" as const };
    const wet = { ...site, control: { ...site.control, battery } };
    const told = (memory: Memory | null): string =>
      tellLearned(buildLearnedView(wet, memory, DEFAULT_WALL_MS));
    expect(told(null)).not.toContain("Battery");
    expect(told(blank)).not.toContain("Battery");
    const memory = { ...blank, battery: { ...blank.battery, lossFactor: 0.87 } };
    expect(told(memory)).toContain(
      "Battery: towards full it loses 0.87 times as much charge as its settings say.",
    );
  });

  it("tells what forecasts were worth, once there was one", () => {
    expect(textOf(wideSky())).not.toContain("Forecasts");
    const one = forecastDays(3);
    expect(textOf(one)).toContain("Forecasts: 3 days on record, too few to say");
    const many = textOf(forecastDays(30)).replaceAll(/\s+/gu, " ");
    expect(many).toContain(
      "Forecasts: 30 days on record, they explain 100 % of the differences between days, and " +
        "count for 100 % of what they could.",
    );
  });

  it("says of a site that has just begun that nothing is known yet", () => {
    for (const memory of [blank, null]) {
      const text = textOf(memory);
      expect(text).toContain("no hour was seen yet");
      expect(text).toContain("not seen yet how clear it is; 0 days on record");
    }
    expect(textOf(blank).replaceAll(/\s+/gu, " ")).toContain("No sun position was learned yet.");
    expect(textOf(null)).toContain(": nothing yet");
  });
});

describe("what was learned, as data", () => {
  it("has just the keys of its schema", () => {
    for (const memory of [wideSky(), blank, null]) {
      const view = buildLearnedView(site, memory, DEFAULT_WALL_MS);
      expect(learnedSchema.parse(view)).toStrictEqual(view);
    }
    expect(learnedJsonSchema()).toHaveProperty("properties.arrays");
  });

  it("tells each cell by where it begins", () => {
    const view = buildLearnedView(site, wideSky(), DEFAULT_WALL_MS);
    expect(view.arrays[0]?.cells).toHaveLength(25 * 14 - 1);
    expect(view.arrays[0]?.cells[0]).toEqual({ azimuthDeg: 60, altitudeDeg: 0, fraction: 1.042 });
    expect(view.arrays[0]?.cells.at(-1)).toMatchObject({ azimuthDeg: 300, altitudeDeg: 65 });
    expect(view.sky.days[0]).toMatchObject({ date: "2026-06-15" });
    expect(view.sky.days[0]?.clearnessFractions.slice(0, 2)).toEqual([null, 0.5]);
  });
});
