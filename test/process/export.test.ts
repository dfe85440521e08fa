/** `export` as a person types it, over a history that an earlier release has left. */
import { cpSync, mkdtempSync, readFileSync, rmSync, statSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, expect, test } from "vitest";
import { bywash } from "../support/command-line.ts";

const RELEASE = "test/data/releases/0.1.0";
let folder = "";
const typed = (...args: readonly string[]) =>
  bywash(["export", "--config", "site.yaml", ...args], { cwd: folder });

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "bywash-export-"));
  cpSync(join(RELEASE, "site.yaml"), join(folder, "site.yaml"));
  cpSync(join(RELEASE, "history.db"), join(folder, "malga.history", "history.db"));
});
afterAll(() => rmSync(folder, { recursive: true }));

test("a recorded morning becomes a day file, and the history stays as it was", async () => {
  const database = join(folder, "malga.history", "history.db");
  const before = readFileSync(database);
  expect(await typed("--from", "2025-06-12", "--to", "2025-06-12", "--out", "day.csv")).toEqual({
    code: 0,
    stdout: "written: day.csv\n210 minutes of 1 day\n",
    stderr: "",
  });
  const lines = readFileSync(join(folder, "day.csv"), "utf8").split("\n");
  expect(lines).toContain("# site: malga");
  expect(lines).toContain("# step: 60 s");
  const head = lines.findIndex((line) => line.startsWith("time,"));
  expect(lines[head]).toContain("pv_power_w,curtailed,battery_soc_percent,battery_voltage_v");
  expect(lines[head + 1]).toMatch(/^2025-06-12T09:00:00\+02:00,\d/u);
  expect(readFileSync(database).equals(before)).toBe(true);

  const split = await typed("--out", "malga.parquet", "--split", "day", "--json");
  expect(JSON.parse(split.stdout)).toEqual({
    files: ["malga-2025-06-12.parquet"],
    dayCount: 1,
    rowCount: 210,
  });
  expect(statSync(join(folder, "malga-2025-06-12.parquet")).size).toBeGreaterThan(1_000);
  const again = await bywash(["import", "malga-2025-06-12.parquet", "--show"], { cwd: folder });
  expect(again).toMatchObject({ code: 0, stderr: "" });
});

test.each([
  [["--out", "x.csv", "--from", "2025-06-31"], "flag-value"],
  [["--out", "x.csv", "--from", "2025-06-12", "--to", "2025-06-11"], "flag-value"],
  [["--out", "x.csv", "--split", "week"], "flag-value"],
  [["--out", "x.csv", "--from", "2025-06-13"], "days-missing"],
  [["--out", "x.txt"], "out-form"],
  [["--out", "site.csv/x.csv"], "out-unwritable"],
])("%j is refused", async (args, code) => {
  const refused = await typed(...args);
  expect(refused).toMatchObject({ code: 2, stdout: "" });
  expect(refused.stderr).toContain(`[${code}]`);
});
