/** A turbine in the wind: its curve, thin air, a year of Rayleigh's winds, and a replay with one. */
import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { parseSite } from "../../config/load.ts";
import { createLocalCalendar } from "../../config/local-calendar.ts";
import { step } from "../../service/control/step.ts";
import { readDayCsv } from "../../simulator/days/read-csv.ts";
import { airDensityFraction, windTurbineW } from "../../simulator/plant/wind-turbine.ts";
import { replay } from "../../simulator/replay.ts";

const RIDGE = { id: "ridge", ratedW: 1000, elevationM: 0 };

describe("a wind turbine", () => {
  it.each([
    [0, 0],
    [2.999, 0],
    [3, 0],
    // (7³ − 3³) / (11³ − 3³) = 316 / 1304
    [7, 242.331],
    [11, 1000],
    [24.999, 1000],
    [25, 0],
  ])("gives at %d m/s %d W of 1000 W", (windMS, powerW) => {
    expect(windTurbineW(RIDGE, windMS, 15)).toBeCloseTo(powerW, 3);
  });

  // What is within Betz's 16/27 at its rated speed is so below it: the share never exceeds the cube.
  it("never gives more of the wind's power than at its rated speed", () => {
    for (let windMS = 0.1; windMS <= 11; windMS += 0.1) {
      const cubeW = 1000 * (windMS / 11) ** 3;
      expect(windTurbineW(RIDGE, windMS, 15)).toBeLessThanOrEqual(cubeW + 1e-9);
    }
  });

  // Density of the standard atmosphere over 1.225 kg/m³, "Manual of the ICAO Standard Atmosphere",
  // Doc 7488: 1.1117, 1.0581 and 1.0066 kg/m³ (from memory).
  it.each([
    [0, 15, 1],
    [1000, 8.5, 1.1117 / 1.225],
    [1500, 5.25, 1.0581 / 1.225],
    [2000, 2, 1.0066 / 1.225],
  ])("finds the air of %d m and %d °C as thin as the standard atmosphere", (m, airC, fraction) => {
    expect(Math.abs(airDensityFraction(m, airC) / fraction - 1)).toBeLessThan(0.001);
  });

  /**
   * By parts, with S(v) = exp(−(v/c)²) and c = 2 v̄/√π the share of time above v: the mean is
   * (∫ 3 v² S dv from cut-in to rated) / (rated³ − cut-in³) − S(cut-out).
   */
  it.each([4, 5.5, 8])(
    "gives over winds after Rayleigh with a mean of %d m/s their mean",
    (mean) => {
      const c = (2 * mean) / Math.sqrt(Math.PI);
      const above = (v: number): number => Math.exp(-((v / c) ** 2));
      const antiderivative = (v: number): number =>
        (-(c ** 2) / 2) * v * above(v) + ((c ** 3 * Math.sqrt(Math.PI)) / 4) * erf(v / c);
      const expected =
        (3 * (antiderivative(11) - antiderivative(3))) / (11 ** 3 - 3 ** 3) - above(25);
      const draws = 20_000;
      let sumW = 0;
      for (let i = 0; i < draws; i += 1) {
        // Every quantile once, in place of chance.
        sumW += windTurbineW(RIDGE, c * Math.sqrt(-Math.log((i + 0.5) / draws)), 15);
      }
      expect(Math.abs(sumW / draws / (1000 * expected) - 1)).toBeLessThan(0.002);
      // The mean cube of such winds is 6/π of their mean's cube: more no turbine of this kind gives.
      expect(sumW / draws).toBeLessThan((1000 * 6 * mean ** 3) / Math.PI / 11 ** 3);
    },
  );
});

describe("a replay of a site with a turbine in the wind", () => {
  const file = "config/examples/tasmania.yaml";
  const overrides = [
    "wind=[{id: ridge, peak: 1 kW}]",
    "telemetry.wind.ridge.power={topic: ridge, unit: W}",
  ];
  const site = parseSite({ text: readFileSync(file, "utf8"), fileName: file, overrides });
  const run = (csv: string) =>
    replay({
      site,
      days: [readDayCsv(csv, "windy.csv")],
      step,
      calendar: createLocalCalendar(site.timeZone),
      stepS: 60,
      startFraction: 0.7,
      mayBridge: false,
      plant: null,
      onDecision: null,
    });
  const rows = (windMS: string): string =>
    Array.from({ length: 120 }, (_, minute) => {
      const clock = `${String(Math.floor(minute / 60)).padStart(2, "0")}:${String(minute % 60).padStart(2, "0")}`;
      return `2026-06-12T${clock}:00+10:00,0,300,5${windMS}`;
    }).join("\n");
  const head = "time,pv_potential_w,base_load_w,air_temperature_c";

  it("counts what the wind gave: two hours at 7 m/s, in the air of its height", () => {
    const still = run(`${head},wind_speed_m_s\n${rows(",2")}\n`);
    const windy = run(`${head},wind_speed_m_s\n${rows(",7")}\n`);
    const { elevationM } = site.control;
    const thin = airDensityFraction(elevationM, 5);
    const powerW = (1000 * (343 * thin - 27)) / (1331 - 27);
    expect(powerW).toBeGreaterThan(200);
    const moreWh = windy.totals.potentialWh - still.totals.potentialWh;
    expect(Math.abs(moreWh / (2 * powerW) - 1)).toBeLessThan(1e-4);
    expect(windy.totals.endSocPercent).toBeGreaterThan(still.totals.endSocPercent);
  });

  it("refuses a day without wind, and says which column", () => {
    expect(() => run(`${head}\n${rows("")}\n`)).toThrow(/day-no-wind[^]*wind_speed_m_s/u);
  });
});

/** @source Abramowitz & Stegun, "Handbook of Mathematical Functions", 1964, 7.1.26: to 1.5e-7 */
function erf(x: number): number {
  const t = 1 / (1 + 0.3275911 * x);
  const series =
    t *
    (0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429))));
  return 1 - series * Math.exp(-x * x);
}
