import { mkdtempSync, mkdirSync, readFileSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeEach, describe, expect, test } from "vitest";
import { bywash } from "../support/command-line.ts";
import type { Typed } from "../support/command-line.ts";

const root = mkdtempSync(join(tmpdir(), "bywash-import-"));
afterAll(() => rmSync(root, { recursive: true }));
const DATA = new URL("../data/weather-files/", import.meta.url).pathname;
const MAPS = new URL("../../simulator/import/maps/", import.meta.url).pathname;
const SURFRAD = [join(DATA, "surfrad.dat"), "--map", "builtin:surfrad"];

let cwd = root;
beforeEach(() => (cwd = mkdtempSync(join(root, "case-"))));
const run = (...args: readonly string[]): Promise<Typed> => bywash(["import", ...args], { cwd });
const fits80 = (text: string): void => {
  for (const line of text.split("\n")) expect(line.length, line).toBeLessThanOrEqual(80);
};

/** The command in a mapping's head as its words, without `bywash import`. */
function exampleOf(map: string): readonly string[] {
  const head = readFileSync(join(MAPS, `${map}.yaml`), "utf8").replaceAll("\\\n#", "");
  const [, command = ""] = /^#\s+bywash import (.*)$/m.exec(head) ?? [];
  return [...command.matchAll(/'([^']*)'|(\S+)/g)].map(
    ([, quoted, plain]) => quoted ?? plain ?? "",
  );
}

describe("the example in the head of a mapping makes a file that a replay takes", () => {
  const maps = readdirSync(MAPS).map((name) => name.replace(".yaml", ""));
  test.each(maps.filter((map) => map !== "example"))("builtin:%s", async (map) => {
    // One mapping serves records of two places.
    const sampled = map === "normalised-pv" ? "almeria" : map;
    const sample = readdirSync(DATA).find((name) => name.split(".")[0] === sampled);
    const [, ...words] = exampleOf(map);
    expect(words).toContain(`builtin:${map}`);
    const made = await run(join(DATA, sample!), ...words);
    expect(made).toMatchObject({ code: 0, stderr: "" });
    // `--split day` puts the date into the name.
    const [stem] = words[words.indexOf("--out") + 1]!.split(".");
    const written = readdirSync(cwd).filter((name) => name.startsWith(stem!));
    expect(written.length).toBeGreaterThanOrEqual(1);
    // Two of the samples jump over a night: their rows are hours apart.
    const replayed = await bywash(["replay", ...written.sort(), "--bridge", "--json"], { cwd });
    expect(replayed).toMatchObject({ code: 0, stderr: "" });
    expect(JSON.parse(replayed.stdout).totals.potentialWh).toBeGreaterThan(0);
  });
});

test("--show says what was understood, in 80 columns, and writes nothing", async () => {
  const { code, stdout } = await run(...SURFRAD, "--show");
  expect(code).toBe(0);
  fits80(stdout);
  expect(stdout).toMatch(/^place +37\.700, -105\.920/m);
  expect(stdout).toMatch(/^rows +60, usually 60 s apart$/m);
  expect(stdout).toMatch(/^ghi_w_m2 +none /m);
  expect(stdout).toMatch(/holes over 10 min: none/);
  expect(stdout).toMatch(/--household SEED/);
  expect(readdirSync(cwd)).toEqual([]);
});

test("--json holds the same as one object", async () => {
  const { stdout } = await run(...SURFRAD, "--json");
  const report = JSON.parse(stdout);
  expect(report).toMatchObject({ unused: [], emptied: {}, written: [] });
  expect(report.summary).toMatchObject({ rows: 60, stepS: 60, gaps: [] });
  expect(report.summary.columns[0]).toMatchObject({ column: "ghi_w_m2", missingFraction: 0 });
});

test("holes and missing values are said", async () => {
  const rows = ["00:00:00Z,5", "00:01:00Z,", "00:30:00Z,7"].map((row) => `2025-06-12T${row}`);
  writeFileSync(join(cwd, "day.csv"), `# step: 60 s\ntime,ghi_w_m2\n${rows.join("\n")}\n`);
  const { stdout } = await run("day.csv", "--show");
  expect(stdout).toMatch(/^ghi_w_m2 +33\.33 % +5 +6 +7$/m);
  expect(stdout).toMatch(/holes over 10 min: 1 [^]* 29 min from 2025-06-12 00:01:00/);
});

test("nothing is replaced without --force, and a failure leaves what was there", async () => {
  const target = join(cwd, "day.csv");
  writeFileSync(target, "mine");
  const refused = await run(...SURFRAD, "--out", "day.csv");
  expect(refused.code).toBe(2);
  expect(refused.stderr).toMatch(/out-exists[^]*--force/);
  writeFileSync(join(cwd, "bad.csv"), "time,ghi_w_m2\n2025-06-12T00:00:00Z,x\n");
  expect((await run("bad.csv", "--out", "day.csv", "--force")).code).toBe(2);
  expect(readFileSync(target, "utf8")).toBe("mine");
  expect(readdirSync(cwd).sort()).toEqual(["bad.csv", "day.csv"]);
  expect((await run(...SURFRAD, "--out", "day.csv", "--force")).code).toBe(0);
  expect(readFileSync(target, "utf8")).toMatch(/^# step: 60 s/);
});

test("a failure late in a long file leaves no part of it", async () => {
  const rows = Array.from(
    { length: 40_000 },
    (_, i) => `${new Date(Date.UTC(2025, 5, 1, 0, i)).toISOString()},${i === 39_000 ? "x" : "5.5"}`,
  );
  writeFileSync(join(cwd, "long.csv"), `time,ghi_w_m2\n${rows.join("\n")}\n`);
  mkdirSync(join(cwd, "days"));
  const { code, stderr } = await run("long.csv", "--split", "day", "--out", "days/d.csv");
  expect(code).toBe(2);
  expect(stderr).toMatch(/long\.csv:39002 /);
  expect(readdirSync(join(cwd, "days"))).toEqual([]);
});

test("--split makes a file for each local day, in either form, that a replay takes", async () => {
  const made = await run("sample.csv", "--split", "day", "--out", "d.csv");
  expect(made.stderr).toMatch(/no such file/);
  const rows = Array.from({ length: 72 }, (_, hour) => {
    const atMs = Date.UTC(2025, 5, 12, hour);
    const local = new Date(atMs + 7_200_000).toISOString().slice(0, 19);
    return `${local}+02:00,300,${Math.max(0, 5000 * Math.sin(((hour - 4) * Math.PI) / 12)).toFixed(0)}`;
  });
  const place = "# latitude: 44.2\n# longitude: 6.9\n";
  const csv = `${place}time,base_load_w,pv_potential_w\n${rows.join("\n")}\n`;
  writeFileSync(join(cwd, "in.csv"), csv);
  const dates = ["2025-06-12", "2025-06-13", "2025-06-14", "2025-06-15"];
  for (const form of ["csv", "parquet"]) {
    const { code, stdout } = await run("in.csv", "--split", "day", "--out", `d.${form}`);
    expect(code).toBe(0);
    expect(stdout).toMatch(/written: 4 files/);
    const names = dates.map((date) => `d-${date}.${form}`);
    expect(readdirSync(cwd)).toEqual(expect.arrayContaining(names));
    const whole = await bywash(["replay", "in.csv", "--json"], { cwd });
    const split = await bywash(["replay", ...names, "--json"], { cwd });
    expect(whole.code).toBe(0);
    expect(split.stdout).toBe(whole.stdout);
  }
});

test("a measured household of another file is joined by its clock", async () => {
  const hours = Array.from(
    { length: 24 },
    (_, hour) => `2025-06-12T${String(hour).padStart(2, "0")}:00:00+02:00,${String(400 + hour)}`,
  );
  writeFileSync(join(cwd, "use.csv"), `time,base_load_w\n${hours.join("\n")}\n`);
  expect(await run(...SURFRAD, "--household", "use.csv", "--out", "a.csv")).toMatchObject({
    code: 0,
  });
  const text = readFileSync(join(cwd, "a.csv"), "utf8");
  expect(text).toMatch(/^# source: .*base_load_w of use\.csv, its one whole day$/m);
  expect(text).toMatch(/^2016-01-01T11:17:00-07:00,.*,411$/m);
});

test("CSV to Parquet and back is the same file", async () => {
  expect((await run(...SURFRAD, "--household", "3", "--out", "a.csv")).code).toBe(0);
  expect((await run("a.csv", "--out", "b.parquet")).code).toBe(0);
  expect((await run("b.parquet", "--out", "c.csv")).code).toBe(0);
  const [a, c] = ["a.csv", "c.csv"].map((name) => readFileSync(join(cwd, name), "utf8"));
  expect(c).toBe(a);
  expect(a).toMatch(/^# source: NOAA SURFRAD; surfrad\.dat; base_load_w made up .*seed 3\)$/m);
});

describe("what is asked for wrongly ends with 2 and says what to do", () => {
  test.each([
    [["x.csv"], /--out FILE/],
    [[], /a file to import/],
    [["nowhere.csv", "--show"], /no such file/],
    [[...SURFRAD, "--out", "day.txt"], /\.csv or \.parquet/],
    [[...SURFRAD, "--out", "nowhere/day.csv"], /no such folder/],
    [[...SURFRAD, "--out", "nowhere/day.parquet"], /no such folder/],
    [[...SURFRAD, "--out", "day.csv", "--split", "week"], /expected: day/],
    [[...SURFRAD, "--show", "--household", "goats"], /no such file/],
    [[...SURFRAD, "--show", "--set", "time.zonne=UTC"], /did you mean zone/],
    [[join(DATA, "surfrad.dat"), "--map", "builtin:sufrad", "--show"], /builtin:surfrad\?/],
    [[join(DATA, "surfrad.dat"), "--show"], /bywash import/],
  ])("%j", async (args, says) => {
    const { code, stdout, stderr } = await run(...args);
    expect(code).toBe(2);
    expect(stdout).toBe("");
    expect(stderr).toMatch(says);
  });
});

test("a mapping can be printed, to be copied and changed", async () => {
  const { code, stdout } = await run("--map", "builtin:example");
  expect(code).toBe(0);
  expect(stdout).toBe(readFileSync(join(MAPS, "example.yaml"), "utf8"));
});
