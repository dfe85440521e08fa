/** `bywash replay` with all cores, as a page, and the schema of what it prints. */
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { bywash } from "../support/command-line.ts";
import type { Typed } from "../support/command-line.ts";

let folder = "";

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "bywash-replay-"));
  writeFileSync(join(folder, "site.yaml"), readFileSync("config/examples/malga.yaml", "utf8"));
});
afterAll(() => rmSync(folder, { recursive: true }));

const typed = (...args: readonly string[]): Promise<Typed> =>
  bywash(["replay", ...args], { cwd: folder });

interface Totals {
  readonly totals: Readonly<Record<string, number>>;
}

describe("replay --against", () => {
  const varied = ["sample:broken", "--set", "ruleCurve.at=80 %"];

  it("gives each settings file what it gets alone, and the difference of the two", async () => {
    const compared = await typed(...varied, "--against", "site.yaml", "--json");
    expect(compared).toMatchObject({ code: 0, stderr: "" });
    const { first, second, difference } = JSON.parse(compared.stdout) as {
      readonly first: Totals;
      readonly second: Totals;
      readonly difference: Readonly<Record<string, number>>;
    };
    expect(first).toEqual(JSON.parse((await typed(...varied, "--json")).stdout));
    expect(second).toEqual(JSON.parse((await typed("sample:broken", "--json")).stdout));
    expect(first.totals).not.toEqual(second.totals);
    for (const [key, value] of Object.entries(difference)) {
      const expected = (first.totals[key] ?? NaN) - (second.totals[key] ?? NaN);
      expect(value, key).toBeCloseTo(expected, 2);
    }
  });

  it("says it in 80 columns, and nothing of its progress where there is no terminal", async () => {
    const { code, stdout, stderr } = await typed(...varied, "--against", "site.yaml");
    expect({ code, stderr }).toEqual({ code: 0, stderr: "" });
    expect(stdout).toMatch(/^thrown away +\S+ kWh +\S+ kWh +[+-]\S+ k?Wh$/mu);
    expect(stdout.split("\n").filter((line) => line.length > 80)).toEqual([]);
  });

  it("passes on what a thread refuses, with 2", async () => {
    writeFileSync(join(folder, "short.csv"), "time,base_load_w\n2025-06-12T00:00:00Z,300\n");
    const refused = await typed("short.csv", "--against", "site.yaml");
    expect(refused.code).toBe(2);
    expect(refused.stderr).toMatch(/\[day-/u);
    const both = await typed("sample:clear", "--against", "site.yaml", "--events");
    expect(both.code).toBe(2);
    expect(both.stderr).toContain("--events");
  });
});

describe("replay --html", () => {
  it("writes the page beside the usual text", async () => {
    const { code, stdout } = await typed("sample:measured", "--html", "page.html");
    expect(code).toBe(0);
    expect(stdout).toContain("in a simulated shed");
    expect(readFileSync(join(folder, "page.html"), "utf8")).toMatch(/^<!doctype html>[\s\S]*<svg/u);
  });

  it("says where it may not write, with 2", async () => {
    const { code, stderr } = await typed("sample:measured", "--html", "no/such/page.html");
    expect(code).toBe(2);
    expect(stderr).toContain("[file-unwritable]");
  });
});

describe("replay --refine", () => {
  it("makes minutes of hourly rows, with the energy of the sun as it was", async () => {
    const bell = [...Array(24).keys()].map((hour) => {
      const globalWm2 = Math.max(0, 700 - 20 * (hour - 11) ** 2);
      return `2025-06-12T${String(hour).padStart(2, "0")}:00:00Z,${globalWm2},300`;
    });
    const text = `# step: 3600 s\ntime,ghi_w_m2,base_load_w\n${bell.join("\n")}\n`;
    writeFileSync(join(folder, "hours.csv"), text);
    const totals = async (...flags: readonly string[]) => {
      const { code, stdout } = await typed("hours.csv", ...flags, "--json");
      expect(code).toBe(0);
      return (JSON.parse(stdout) as Totals).totals;
    };
    const [hours, minutes] = [await totals(), await totals("--refine", "3")];
    expect(minutes["baseLoadWh"]).toBe(hours["baseLoadWh"]);
    expect(minutes["potentialWh"]).not.toBe(hours["potentialWh"]);
    const ratio = (minutes["potentialWh"] ?? 0) / (hours["potentialWh"] ?? 1);
    // The light is the same; split into beam and sky minute by minute it falls a little otherwise.
    expect(Math.abs(ratio - 1)).toBeLessThan(0.1);
    expect((await typed("hours.csv", "--refine", "some")).code).toBe(2);
  });
});

it("schema --of replay is the schema of the result, not of the settings", async () => {
  const { code, stdout } = await bywash(["schema", "--of", "replay"], { cwd: folder });
  expect(code).toBe(0);
  const { required } = JSON.parse(stdout) as { readonly required: readonly string[] };
  expect(required).toContain("perDay");
});
