/** `bywash bound`, `replay --bound` and `tune`, as a user types them. */
import { mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { Ajv2020 } from "ajv/dist/2020.js";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { loadSite } from "../../config/load.ts";
import { writeDayCsv } from "../../simulator/days/write-csv.ts";
import { syntheticDay } from "../../simulator/weather/synthetic-day.ts";
import { bywash, startBywash } from "../support/command-line.ts";
import type { Typed } from "../support/command-line.ts";

let folder = "";
const DAYS = ["2025-06-12", "2025-06-13", "2025-06-14", "2025-06-15"];
const FILES = DAYS.map((localDate) => `${localDate}.csv`);

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "bywash-bound-"));
  writeFileSync(join(folder, "site.yaml"), readFileSync("test/evidence/malga.yaml", "utf8"));
  const site = loadSite({ path: "test/evidence/malga.yaml" });
  for (const [seed, localDate] of DAYS.entries()) {
    const day = syntheticDay({ site, localDate, seed, kind: seed % 2 === 0 ? "clear" : "broken" });
    writeFileSync(join(folder, `${localDate}.csv`), writeDayCsv(day));
  }
});
afterAll(() => rmSync(folder, { recursive: true }));

const typed = (...args: readonly string[]): Promise<Typed> =>
  bywash([...args, "--config", "site.yaml"], { cwd: folder });

async function schemaOf(what: string): Promise<object> {
  const schema: object = JSON.parse((await bywash(["schema", "--of", what])).stdout);
  return schema;
}

async function expectValid(what: string, result: unknown): Promise<void> {
  const validate = new Ajv2020({ strict: false, validateFormats: false }).compile(
    await schemaOf(what),
  );
  expect(validate(result), JSON.stringify(validate.errors)).toBe(true);
}

describe("the bound", () => {
  it("is one object by its schema, and the sum of its days and loads", async () => {
    const { code, stdout, stderr } = await typed("bound", ...FILES, "--json");
    expect({ code, stderr }).toEqual({ code: 0, stderr: "" });
    const result = JSON.parse(stdout) as {
      readonly usefulDivertedWh: number;
      readonly loads: Readonly<Record<string, { readonly usefulWh: number }>>;
      readonly perDay: readonly { readonly usefulDivertedWh: number }[];
    };
    await expectValid("bound", result);
    const sum = (values: readonly number[]): number => values.reduce((one, two) => one + two, 0);
    const best = result.usefulDivertedWh;
    expect(sum(result.perDay.map((day) => day.usefulDivertedWh))).toBeCloseTo(best, -1);
    expect(sum(Object.values(result.loads).map((load) => load.usefulWh))).toBeCloseTo(best, -1);
    expect(best).toBeGreaterThan(1000);
  });

  it("stands beside a replay, in JSON and in words of 80 columns", async () => {
    const json = await typed("replay", ...FILES, "--bound", "--json");
    expect({ code: json.code, stderr: json.stderr }).toEqual({ code: 0, stderr: "" });
    const result = JSON.parse(json.stdout) as {
      readonly totals: { readonly usefulDivertedWh: number; readonly boundShareFraction: number };
      readonly bound: { readonly usefulDivertedWh: number };
    };
    await expectValid("replay", result);
    const share = result.totals.usefulDivertedWh / result.bound.usefulDivertedWh;
    expect(result.totals.boundShareFraction).toBeCloseTo(share, 4);
    const { stdout } = await typed("replay", ...FILES, "--bound");
    expect(stdout).toContain(`${(share * 100).toFixed(0)} % of the best`);
    expect(stdout.split("\n").filter((line) => line.length > 80)).toEqual([]);
  });

  it("goes with one settings file alone, and with no journal", async () => {
    const refused = await typed("replay", ...FILES, "--bound", "--against", "site.yaml");
    expect(refused.code).toBe(2);
    expect(refused.stderr).toContain("--bound");
  });
});

describe("tune", () => {
  const vary = ["--vary", "loads.water-heater.tank.surplus=50..70 °C by 10 °C"];

  it("prints one object by its schema, and the same one again", async () => {
    const [one, other] = [
      await typed("tune", ...FILES, ...vary, "--json"),
      await typed("tune", ...FILES, ...vary, "--json"),
    ];
    expect({ code: one.code, stderr: one.stderr }).toEqual({ code: 0, stderr: "" });
    await expectValid("tune", JSON.parse(one.stdout));
    expect(JSON.parse(one.stdout)).toMatchObject({ daysTuned: 3, daysHeldOut: 1, tried: 3 });
    expect(other.stdout).toBe(one.stdout);
  });

  it("shows the lines to change, and leaves the file as it is", async () => {
    const before = readFileSync(join(folder, "site.yaml"), "utf8");
    const poor = before.replace("surplus: 68 °C", "surplus: 45 °C # too low");
    writeFileSync(join(folder, "poor.yaml"), poor);
    const { code, stdout } = await bywash(["tune", ...FILES, ...vary, "--config", "poor.yaml"], {
      cwd: folder,
    });
    expect(code).toBe(0);
    expect(stdout).toMatch(/^-\s+surplus: 45 °C # too low$/mu);
    expect(stdout).toMatch(/^\+\s+surplus: \d0 °C # too low$/mu);
    expect(stdout.split("\n").filter((line) => line.length > 80)).toEqual([]);
    expect(readFileSync(join(folder, "poor.yaml"), "utf8")).toBe(poor);
    rmSync(join(folder, "poor.yaml"));
  });

  it.each([
    ["loads.water-heter.priority=1,2", "did you mean water-heater?"],
    ["ruleCurve.att=80..90 %", "did you mean at?"],
    ["ruleCurve.at=80..90 W", "W is the unit of a power"],
    ["ruleCurve.at=90..80 %", "the smaller value first"],
  ])("refuses %s with 2 and says what to try", async (written, suggestion) => {
    const { code, stderr } = await typed("tune", ...FILES, "--vary", written);
    expect(code).toBe(2);
    expect(stderr.replace(/\s+/gu, " ")).toContain(suggestion);
  });

  it("leaves nothing behind when it is cancelled", async () => {
    const before = readdirSync(folder);
    const many = ["--vary", "ruleCurve.at=70..95 % by 1 %", "--most", "26"];
    const running = startBywash(["tune", ...FILES, ...many, "--config", "site.yaml"], {
      cwd: folder,
    });
    running.process.kill("SIGINT");
    const { code, stdout } = await running.ended;
    expect(code).not.toBe(0);
    expect(stdout).toBe("");
    expect(readdirSync(folder)).toEqual(before);
  });
});
