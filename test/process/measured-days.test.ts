/** Each line of docs/measured-days.md, run on a small part of what it is for. */
import { copyFileSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { shellBlocks } from "../docs/shell-blocks.ts";
import { bywash } from "../support/command-line.ts";

interface Part {
  readonly file: string;
  /** First line with values, and the place of one value in it, counted by hand in the file. */
  readonly firstLine: number;
  readonly valueOf: (line: string) => string | undefined;
  readonly column: string;
  /** Day file's unit over the file's. */
  readonly factor: number;
  readonly stepS: number;
}

const field = (place: number) => (line: string) => line.split(",")[place - 1];
const word = (place: number) => (line: string) => line.trim().split(/\s+/u)[place - 1];
const GHI = { column: "ghi_w_m2", factor: 1, stepS: 60 };
const PV = { column: "pv_potential_w", factor: 6600, stepS: 60, firstLine: 2, valueOf: field(2) };
const TM2_GHI = (line: string) => line.slice(17, 21);

/** By the name in the document. */
const PARTS: Readonly<Record<string, Part>> = {
  "slv16001.dat": { ...GHI, file: "surfrad.dat", firstLine: 3, valueOf: word(9) },
  "midc_20181014.txt": { ...GHI, file: "midc.txt", firstLine: 2, valueOf: field(3) },
  "midc_raw_20181018.txt": { ...GHI, file: "midc-raw.txt", firstLine: 2, valueOf: field(7) },
  "midc_bms_ghi_20220120.csv": { ...GHI, file: "srrl.csv", firstLine: 2, valueOf: field(2) },
  "20120517_1min.csv": { ...GHI, file: "tmy3-measured.csv", firstLine: 3, valueOf: field(5) },
  "irradiance_RMIS_NREL.csv": {
    ...GHI,
    file: "rmis.csv",
    firstLine: 2,
    valueOf: field(4),
    stepS: 300,
  },
  "serf_east_1min_ac_power.csv": { ...PV, file: "serf-east.csv", factor: 1 },
  "Almeria_clear_day_1min.csv": { ...PV, file: "almeria.csv" },
  "Turin_cloudy_day_1min.csv": { ...PV, file: "turin.csv" },
  "dtu_2016_05.csv": { ...GHI, file: "dtu.csv", firstLine: 2, valueOf: field(2) },
  "MET_2015_11_11.dat": { ...GHI, file: "sandia-abq.dat", firstLine: 5, valueOf: field(3) },
  "703165TY.csv": { ...GHI, file: "tmy3.csv", firstLine: 3, valueOf: field(5), stepS: 3600 },
  "12839.tm2": { ...GHI, file: "tm2.tm2", firstLine: 2, valueOf: TM2_GHI, stepS: 3600 },
  "denver.epw": { ...GHI, file: "epw.epw", firstLine: 9, valueOf: field(14), stepS: 3600 },
};

const document = readFileSync("docs/measured-days.md", "utf8");
const BLOCKS = shellBlocks(document);

let folder = "";
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "bywash-measured-"));
});
afterAll(() => rmSync(folder, { recursive: true }));

/** Words of a command line as a shell would part them. */
function words(line: string): string[] {
  return [...line.matchAll(/"([^"]*)"|(\S+)/gu)].map((match) => match[1] ?? match[2] ?? "");
}

function energyInSource({ file, firstLine, valueOf, factor, stepS }: Part): number {
  const lines = readFileSync(`test/data/weather-files/${file}`, "utf8").split(/\r?\n/u);
  const rows = lines.slice(firstLine - 1).filter((line) => line.trim() !== "");
  const values = rows.map(valueOf).filter((text) => text !== undefined && text.trim() !== "");
  expect(values.length).toBeGreaterThanOrEqual(4);
  return (values.reduce((sum, text) => sum + Number(text), 0) * factor * stepS) / 3600;
}

function energyInDayFile(path: string, { column, stepS }: Part): number {
  const lines = readFileSync(path, "utf8").split("\n");
  const [head, ...rows] = lines.filter((line) => line !== "" && !line.startsWith("#"));
  const place = head?.split(",").indexOf(column) ?? -1;
  expect(place).toBeGreaterThan(0);
  return (rows.reduce((sum, row) => sum + Number(row.split(",")[place]), 0) * stepS) / 3600;
}

describe("docs/measured-days.md", () => {
  it("has a line for every part here, and none without one", () => {
    const named = BLOCKS.map((block) => words(block.split("\n")[0] ?? "")[2]);
    expect(named).toEqual(Object.keys(PARTS));
  });

  it.each(BLOCKS.map((block) => [block.split(" ")[2] ?? "", block] as const))(
    "%s: imports with the energy of the file, and replays",
    async (name, block) => {
      const part = PARTS[name];
      if (part === undefined) throw new Error(`no part of ${name}`);
      copyFileSync(`test/data/weather-files/${part.file}`, join(folder, name));
      const [first = "", second = ""] = block.split("\n");
      const imported = await bywash([...words(first).slice(1), "--force"], { cwd: folder });
      expect({ code: imported.code, stderr: imported.stderr }).toEqual({ code: 0, stderr: "" });
      const [, , dayFile = ""] = words(second);
      const energyWh = energyInDayFile(join(folder, dayFile), part);
      // The day file rounds to six digits.
      expect(Math.abs(energyWh - energyInSource(part))).toBeLessThan(1e-5 * energyWh);
      const replayed = await bywash([...words(second).slice(1), "--json"], { cwd: folder });
      expect({ code: replayed.code, stderr: replayed.stderr }).toEqual({ code: 0, stderr: "" });
      const { totals } = JSON.parse(replayed.stdout) as { totals: Record<string, number> };
      expect(totals["potentialWh"]).toBeGreaterThan(0);
      expect(totals["baseLoadWh"]).toBeGreaterThan(0);
      // Where the record is power it is the potential itself.
      if (part.column === "pv_potential_w") {
        expect(Math.abs((totals["potentialWh"] ?? 0) - energyWh)).toBeLessThan(1e-4 * energyWh);
      }
    },
  );
});
