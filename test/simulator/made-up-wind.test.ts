/** Made-up wind has the spread, the persistence and the breeze that it says it has. */
import { expect, test } from "vitest";
import { loadSite } from "../../config/load.ts";
import { createRandom } from "../../simulator/weather/random.ts";
import { syntheticDay } from "../../simulator/weather/synthetic-day.ts";
import { windMinutes } from "../../simulator/weather/wind.ts";

const DAYS = 1500;
const days = Array.from({ length: DAYS }, (_, seed) =>
  windMinutes(1440, (index) => index, createRandom(~seed)),
);

const mean = (values: readonly number[]): number =>
  values.reduce((sum, value) => sum + value, 0) / values.length;
const at = (minute: number): number[] => days.map((day) => day[minute] ?? NaN);

/** Rayleigh: mean 4.5 m/s × the breeze, and the mean of squares is 4/π times its square. */
test.each([
  [0, 1 + 0.3 * Math.cos((2 * Math.PI * -900) / 1440)],
  [180, 0.7],
  [540, 1 + 0.3 * Math.cos((2 * Math.PI * -360) / 1440)],
  [900, 1.3],
])("at minute %i the mean is %f times 4.5 m/s, spread as Rayleigh's", (minute, breeze) => {
  const speeds = at(minute);
  expect(speeds).toHaveLength(DAYS);
  // The mean of 1500 days is known to 1.4 % (one standard deviation): 4 of them.
  expect(mean(speeds) / (4.5 * breeze)).toBeGreaterThan(0.944);
  expect(mean(speeds) / (4.5 * breeze)).toBeLessThan(1.056);
  const squares = mean(speeds.map((speed) => speed * speed)) / mean(speeds) ** 2;
  expect(Math.abs(squares - 4 / Math.PI)).toBeLessThan(0.06);
  // A Rayleigh speed exceeds twice its mean in exp(−π) = 4.3 % of the time.
  const share = speeds.filter((speed) => speed > 2 * 4.5 * breeze).length / DAYS;
  expect(Math.abs(share - Math.exp(-Math.PI))).toBeLessThan(0.021);
});

test("an hour later it is much the same, half a day later another wind", () => {
  const correlation = (early: readonly number[], late: readonly number[]): number => {
    const [a, b] = [mean(early), mean(late)];
    const product = (x: readonly number[], y: readonly number[], p: number, q: number) =>
      mean(x.map((value, index) => (value - p) * ((y[index] ?? 0) - q)));
    return (
      product(early, late, a, b) /
      Math.sqrt(product(early, early, a, a) * product(late, late, b, b))
    );
  };
  // Of the speeds it is near the square of the vector's: 0.85² = 0.72.
  expect(Math.abs(correlation(at(600), at(660)) - 0.72)).toBeLessThan(0.08);
  expect(Math.abs(correlation(at(300), at(1020)))).toBeLessThan(0.1);
});

test("the wind blows where a turbine stands; elsewhere the day is the same without it", () => {
  const of = (overrides: readonly string[]) => {
    const site = loadSite({ path: "config/examples/malga.yaml", overrides });
    return syntheticDay({ site, localDate: "2025-06-12", seed: 5, kind: "broken" });
  };
  const turbine = ["wind=[{ id: ridge, peak: 1 kW }]"];
  const telemetry = "telemetry.wind.ridge.power={ topic: shed/wind, unit: W }";
  const [still, windy] = [of([]), of([...turbine, telemetry])];
  expect(new Set(still.columns.get("wind_speed_m_s"))).toEqual(new Set([1.5]));
  expect(new Set(windy.columns.get("wind_speed_m_s")).size).toBeGreaterThan(1400);
  for (const name of ["ghi_w_m2", "base_load_w", "air_temperature_c"]) {
    expect(windy.columns.get(name)).toEqual(still.columns.get(name));
  }
  expect(of([...turbine, telemetry]).columns).toEqual(windy.columns);
});
