/** Made-up days as a day file: the same ones as those that a replay makes up for itself. */
import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { loadSite } from "../../config/load.ts";
import { readDayCsv } from "../../simulator/days/read-csv.ts";
import { syntheticDay } from "../../simulator/weather/synthetic-day.ts";
import { bywash } from "../support/command-line.ts";

let folder = "";
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "bywash-weather-"));
});
afterAll(() => rmSync(folder, { recursive: true }));

const weather = (...flags: readonly string[]) => bywash(["weather", ...flags], { cwd: folder });

describe("bywash weather", () => {
  it("writes the day that its seed makes", async () => {
    const { code, stderr } = await weather("--date", "2025-06-20", "--seed", "7", "--out", "a.csv");
    expect({ code, stderr }).toEqual({ code: 0, stderr: "" });
    const read = readDayCsv(readFileSync(join(folder, "a.csv"), "utf8"), "a.csv");
    const site = loadSite({ path: "config/examples/malga.yaml" });
    const made = syntheticDay({ site, localDate: "2025-06-20", seed: 7, kind: "broken" });
    expect([...read.timesMs]).toEqual([...made.timesMs]);
    for (const [name, values] of made.columns) {
      const sum = values.reduce((all, value) => all + value, 0);
      const readSum = read.columns.get(name)?.reduce((all, value) => all + value, 0) ?? NaN;
      expect(Math.abs(readSum - sum), name).toBeLessThanOrEqual(1e-5 * Math.abs(sum));
    }
  });

  it("makes a mixed season the same twice, and has skies of more than one kind in it", async () => {
    const season = ["--sky", "mixed", "--days", "8", "--date", "2025-03-27"];
    await weather(...season, "--out", "one.csv");
    await weather(...season, "--out", "two.csv");
    const one = readFileSync(join(folder, "one.csv"), "utf8");
    expect(readFileSync(join(folder, "two.csv"), "utf8")).toBe(one);
    const { timesMs, columns, gaps } = readDayCsv(one, "one.csv");
    // The clock goes forward on 30 March: an hour is missing in eight days.
    expect(timesMs).toHaveLength(8 * 1440 - 60);
    expect(gaps).toEqual([]);
    const ghi = columns.get("ghi_w_m2") ?? new Float64Array();
    const dailyWh = Array.from({ length: 7 }, (_, day) =>
      ghi.slice(day * 1440, (day + 1) * 1440).reduce((sum, value) => sum + value / 60, 0),
    );
    expect(Math.max(...dailyWh)).toBeGreaterThan(1.5 * Math.min(...dailyWh));
  });

  it.each([
    [["--out", "x.txt"], ".csv"],
    [["--out", "y.csv", "--sky", "mixd"], "did you mean mixed?"],
    [["--out", "y.csv", "--days", "0"], "--days"],
    [["--out", "y.csv", "--date", "2025-02-30"], "2025-02-30"],
    [["--out", "a.csv"], "a.csv"],
  ])("refuses %j", async (flags, said) => {
    const { code, stderr } = await weather(...flags);
    expect(code).toBe(2);
    expect(stderr).toContain(said);
  });
});
