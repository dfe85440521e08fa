import { expect, test } from "vitest";
import { loadSite } from "../../config/load.ts";
import type { DaySeries } from "../../simulator/days/day-file.ts";
import { cloudedSky } from "../../simulator/weather/clouded-sky.ts";
import { refineHours } from "../../simulator/weather/refine-hours.ts";
import { SKY_KINDS } from "../../simulator/weather/cloud.ts";
import { syntheticDay } from "../../simulator/weather/synthetic-day.ts";

const site = loadSite({
  path: new URL("../../config/examples/malga.yaml", import.meta.url).pathname,
});
const place = site.control;
const LIGHT = ["ghi_w_m2", "dni_w_m2", "dhi_w_m2"] as const;

/** Means of whole hours, as a typical year has them. */
function hourly(day: DaySeries): DaySeries {
  const rows = day.timesMs.length / 60;
  const timesMs = Float64Array.from({ length: rows }, (_, row) => day.timesMs[row * 60] ?? 0);
  const columns = new Map(
    [...day.columns].map(([name, minutes]) => {
      const means = timesMs.map((_, row) => {
        const hour = minutes.subarray(row * 60, (row + 1) * 60);
        return hour.reduce((sum, value) => sum + value, 0) / 60;
      });
      return [name, means] as const;
    }),
  );
  return { ...day, stepMs: 3_600_000, timesMs, columns };
}

function column(series: DaySeries, name: string): Float64Array {
  const values = series.columns.get(name);
  if (values === undefined) throw new Error(`the day has ${name}`);
  return values;
}

test.each(SKY_KINDS)("%s: every hour keeps its energy, in each kind of light", (kind) => {
  const hours = hourly(syntheticDay({ site, localDate: "2025-06-12", seed: 5, kind }));
  const minutes = refineHours(hours, place, 11);
  expect(minutes.timesMs).toHaveLength(1440);
  let lit = 0;
  for (const name of [...LIGHT, "base_load_w"]) {
    const again = column(hourly(minutes), name);
    for (const [row, mean] of column(hours, name).entries()) {
      expect(Math.abs((again[row] ?? NaN) - mean)).toBeLessThanOrEqual(1e-9 * (1 + mean));
      if (mean > 0) lit += 1;
    }
  }
  expect(lit).toBeGreaterThan(40);
});

test("a broken hour gets sun and shadow, never far above the clear sky; a clear one stays smooth", () => {
  const roughest = (kind: "clear" | "broken"): number => {
    const hours = hourly(syntheticDay({ site, localDate: "2025-06-12", seed: 5, kind }));
    const refined = refineHours(hours, place, 11);
    const global = column(refined, "ghi_w_m2");
    let most = 0;
    for (let i = 600; i < 840; i += 1) {
      const clear = cloudedSky(place, (refined.timesMs[i] ?? 0) + 30_000, 1);
      expect(global[i]).toBeLessThanOrEqual(1.35 * clear.globalWm2 + 1e-6);
      // From one hour to the next the mean may jump; within it the minutes are looked at.
      if (i % 60 > 0) most = Math.max(most, Math.abs((global[i] ?? 0) - (global[i - 1] ?? 0)));
    }
    return most;
  };
  expect(roughest("broken")).toBeGreaterThan(200);
  expect(roughest("clear")).toBeLessThan(60);
});

test("the same seed gives the same minutes, another seed others", () => {
  const hours = hourly(syntheticDay({ site, localDate: "2025-06-12", seed: 5, kind: "broken" }));
  const global = (seed: number) => column(refineHours(hours, place, seed), "ghi_w_m2");
  expect(global(1)).toEqual(global(1));
  expect(global(1)).not.toEqual(global(2));
});

test("light that the model does not expect is kept all the same", () => {
  const hours = hourly(syntheticDay({ site, localDate: "2025-06-12", seed: 5, kind: "clear" }));
  column(hours, "ghi_w_m2")[0] = 12;
  const minutes = column(refineHours(hours, place, 1), "ghi_w_m2");
  expect([...minutes.subarray(0, 60)]).toEqual(new Array(60).fill(12));
});
