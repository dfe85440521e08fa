import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, test } from "vitest";
import type { DaySeries } from "../../simulator/days/day-file.ts";
import {
  madeUpHousehold,
  recordedHousehold,
  withUse,
} from "../../simulator/import/household-column.ts";
import { readDayCsv, readDayCsvPieces } from "../../simulator/days/read-csv.ts";
import { importFiles } from "../../simulator/import/import-files.ts";
import { mappingSchema } from "../../simulator/import/mapping.ts";
import { mappingText, readMapping } from "../../simulator/import/read-mapping.ts";
import { createTimeReader } from "../../simulator/import/time-form.ts";
import { createZone } from "../../simulator/import/zone.ts";

const folder = mkdtempSync(join(tmpdir(), "bywash-import-"));
afterAll(() => rmSync(folder, { recursive: true }));

function write(name: string, text: string): string {
  const path = join(folder, name);
  writeFileSync(path, text);
  return path;
}

const MAPPING = `version: 1
file: { separator: ";", decimal: "," }
time: { from: [day, clock], form: dd.MM.yyyy HH:mm, zone: Europe/Rome }
columns:
  pv_power_w: { from: PV, unit: kW }
  base_load_w: Haus
`;
const HEADER = "day;clock;PV;Haus;Wind\n";

interface Imported {
  readonly pieces: readonly DaySeries[];
  readonly unused: ReadonlySet<string>;
  readonly emptied: ReadonlyMap<string, number>;
}

function imported(rows: string, mapping = MAPPING, set: readonly string[] = []): Imported {
  const notes = { unused: new Set<string>(), emptied: new Map<string, number>() };
  const paths = [write("foreign.csv", rows)];
  const read = readMapping(write("mapping.yaml", mapping), set);
  return { pieces: [...importFiles({ paths, mapping: read, notes })], ...notes };
}

const column = ({ pieces }: Imported, name: string): readonly number[] =>
  pieces.flatMap(({ columns }) => [...(columns.get(name) ?? [])]);

const flat = (error: unknown): string => String(error).replace(/\s+/g, " ");

function complaint(act: () => unknown): string {
  try {
    act();
  } catch (error) {
    return flat(error);
  }
  return "";
}

test("units, decimal commas, places by name, and what is not used", () => {
  const result = imported(`${HEADER}12.06.2025;10:00;1,25;300;3\n12.06.2025;10:01;;0,5;3\n`);
  expect(column(result, "pv_power_w")).toEqual([1250, NaN]);
  expect(column(result, "base_load_w")).toEqual([300, 0.5]);
  expect([...result.unused]).toEqual(["Wind"]);
  expect(result.pieces[0]?.timesMs[0]).toBe(Date.parse("2025-06-12T08:00:00Z"));
  expect(result.pieces[0]?.source).toBe("foreign.csv");
});

describe("each conversion", () => {
  const one = (name: string, about: string, value: string): number => {
    const mapping = `version: 1
time: { from: t, form: rfc3339, zone: UTC, step: 15 min }
columns: { ${name}: { from: x, ${about} } }
`;
    return column(imported(`t,x\n2025-06-12T00:00:00Z,${value}\n`, mapping), name)[0] ?? NaN;
  };
  test.each([
    ["load_pump_w", "unit: kWh", "0.2", 800],
    ["load_pump_w", "unit: Wh", "200", 800],
    ["load_pump_w", "unit: MW", "0.001", 1000],
    ["ghi_w_m2", "unit: kW/m2", "0.5", 500],
    ["ghi_w_m2", "unit: J/cm2", "45", 500],
    ["ghi_w_m2", "unit: kJ/m²", "450", 500],
    ["battery_soc_percent", "unit: fraction", "0.85", 85],
    ["battery_voltage_v", "unit: mV", "52100", 52.1],
    ["battery_current_a", "times: -1", "12", -12],
    ["air_temperature_c", "unit: K", "273.15", 0],
    ["tank_heater_c", "unit: °F", "212", 100],
    ["wind_speed_m_s", "unit: km/h", "36", 10],
    ["wind_speed_m_s", "unit: kn", "36", 18.52],
    ["tank_heater_c", "times: 0.1, plus: -1", "555", 54.5],
  ])("%s in %s", (name, about, value, expected) => {
    expect(one(name, about, value)).toBeCloseTo(expected, 9);
  });
});

describe("missing values", () => {
  const rows = "t,x,ok,w\n2025-06-12T00:00:00Z,-9999.90,1,up\n2025-06-12T00:01:00Z,5,0,down\n";
  const mapping = (about: string): string => `version: 1
time: { from: t, form: rfc3339, zone: UTC }
columns: { ghi_w_m2: { from: x, ${about} } }
`;
  test("codes match as numbers", () => {
    expect(column(imported(rows, mapping("missing: [-9999.9]")), "ghi_w_m2")).toEqual([NaN, 5]);
  });
  test("take the fill where there is one", () => {
    const filled = imported(rows, mapping("missing: [-9999.9], fill: 0"));
    expect(column(filled, "ghi_w_m2")).toEqual([0, 5]);
  });
  test("come from a flag too", () => {
    const flagged = imported(rows, mapping("missing: [-9999.9], valid: { from: ok, is: 1 }"));
    expect(column(flagged, "ghi_w_m2")).toEqual([NaN, NaN]);
  });
  test("values that cannot be are refused, or left empty and counted", () => {
    expect(complaint(() => imported(rows, mapping("times: 1")))).toMatch(
      /foreign\.csv:2 \[day-range\].*missing/,
    );
    const result = imported(rows, mapping("times: 1"), ["outOfRange=empty"]);
    expect(column(result, "ghi_w_m2")).toEqual([NaN, 5]);
    expect(result.emptied.get("ghi_w_m2")).toBe(1);
  });
  test("words are translated", () => {
    const words = `version: 1
time: { from: t, form: rfc3339, zone: UTC }
columns:
  charge_stage: { from: w, words: { up: bulk, down: float } }
  curtailed: { from: w, words: { up: 0, down: 1 } }
`;
    expect(column(imported(rows, words), "charge_stage")).toEqual([0, 2]);
    expect(column(imported(rows, words), "curtailed")).toEqual([0, 1]);
    expect(complaint(() => imported(rows.replace("down", "off"), words))).toMatch(
      /foreign\.csv:3 .*found: off .*up, down/,
    );
  });
});

describe("local time", () => {
  const rome = createZone("Europe/Rome");
  const local = (text: string): number => Date.parse(`${text}Z`);
  test("the hour that comes twice goes by the row before", () => {
    const first = rome(local("2025-10-26T02:30:00"), -Infinity);
    expect(first).toEqual({ atMs: Date.parse("2025-10-26T00:30:00Z"), offsetMs: 7_200_000 });
    const second = rome(local("2025-10-26T02:30:00"), first!.atMs);
    expect(second).toEqual({ atMs: Date.parse("2025-10-26T01:30:00Z"), offsetMs: 3_600_000 });
  });
  test("the hour that does not come is none", () => {
    expect(rome(local("2025-03-30T02:30:00"), -Infinity)).toBeNull();
    expect(rome(local("2025-03-30T03:00:00"), -Infinity)?.offsetMs).toBe(7_200_000);
    expect(rome(local("2025-03-30T01:59:00"), -Infinity)?.offsetMs).toBe(3_600_000);
  });
  test("half an hour is a change too, and the south has its summer in January", () => {
    expect(createZone("Australia/Hobart")(local("2025-01-10T12:00:00"), 0)?.offsetMs).toBe(
      39_600_000,
    );
    const howe = createZone("Australia/Lord_Howe");
    expect(howe(local("2025-10-05T02:15:00"), 0)).toBeNull();
    expect(howe(local("2025-10-05T02:30:00"), 0)?.offsetMs).toBe(39_600_000);
  });
  test("a whole autumn night comes out in order, and a spring night without its gap", () => {
    const minutes = (from: number, to: number): string[] =>
      Array.from({ length: (to - from) / 10 }, (_, i) => {
        const minute = from + i * 10;
        return `26.10.2025;0${Math.floor(minute / 60)}:${String(minute % 60).padStart(2, "0")};1;300;0`;
      });
    const night = [...minutes(60, 180), ...minutes(120, 240)].join("\n");
    const { pieces } = imported(`${HEADER}${night}\n`);
    const times = pieces.flatMap(({ timesMs }) => [...timesMs]);
    expect(new Set(times.slice(1).map((atMs, i) => atMs - times[i]!))).toEqual(new Set([600_000]));
    const spring = `${HEADER}30.03.2025;01:59;1;300;0\n30.03.2025;02:10;1;300;0\n`;
    expect(complaint(() => imported(spring))).toMatch(/foreign\.csv:3 .*leave out.*offset/);
  });
});

describe("forms of time", () => {
  test.each([
    ["dd.MM.yyyy HH:mm", "12.06.2025 07:05", "2025-06-12T07:05:00Z"],
    ["M/d/yyyy H:mm", "6/2/2025 7:05", "2025-06-02T07:05:00Z"],
    ["yyyy DDD Hmm", "2016 60 958", "2016-02-29T09:58:00Z"],
    ["yyyy DDD Hmm", "2018 291 0", "2018-10-18T00:00:00Z"],
    ["yyMMddHH", "62010124", "1962-01-02T00:00:00Z"],
    ["yyyyMMdd:HHmm", "20180131:2300", "2018-01-31T23:00:00Z"],
    ["yyyy-MM-dd HH:mm:ss", "2025-12-31 24:00:00", "2026-01-01T00:00:00Z"],
    ["yyyy-MM-dd HH:mm:ss", "2025-06-12 07:05:09.5", "2025-06-12T07:05:09.500Z"],
    ["seconds", "1749686400", "2025-06-12T00:00:00Z"],
    ["milliseconds", "1749686400000", "2025-06-12T00:00:00Z"],
  ])("%s: %s", (form, text, expected) => {
    expect(createTimeReader(form)?.(text, undefined)?.localMs).toBe(Date.parse(expected));
  });
  test.each([
    ["dd.MM.yyyy", "31.02.2025"],
    ["dd.MM.yyyy HH:mm", "12.06.2025 24:01"],
    ["dd.MM.yyyy HH:mm", "12.06.2025 07:60"],
    ["dd.MM.yyyy", "2025-06-12"],
    ["yyyy DDD", "2025 366"],
    ["yyyy DDD", "2025 0"],
    ["seconds", "-1"],
  ])("%s is not %s", (form, text) => {
    expect(createTimeReader(form)?.(text, undefined)).toBeNull();
  });
  test.each(["HH:mm", "yyyy-MM", "dd.dd.yyyy", ""])("%s is no form", (form) => {
    expect(createTimeReader(form)).toBeNull();
  });
  test("an offset that the text carries counts", () => {
    const read = createTimeReader("yyyy-MM-dd HH:mm:ssZZ");
    expect(read?.("2022-01-20 09:58:00-07:00", undefined)?.offsetMs).toBe(-25_200_000);
  });
});

test("a stamp at the end or in the middle of its interval is moved to the begin", () => {
  const rows = `${HEADER}12.06.2025;10:00;1;1;1\n12.06.2025;10:10;1;1;1\n`;
  const begin = (stands: string): string =>
    new Date(
      imported(rows, MAPPING, [`time.stands=${stands}`]).pieces[0]!.timesMs[0]!,
    ).toISOString();
  expect(begin("begin")).toBe("2025-06-12T08:00:00.000Z");
  expect(begin("middle")).toBe("2025-06-12T07:55:00.000Z");
  expect(begin("end")).toBe("2025-06-12T07:50:00.000Z");
});

describe("a mistake in the mapping is said at its line", () => {
  test.each([
    [
      "a column that is not ours",
      "base_load_w: Haus",
      "base_load: Haus",
      /:6:3 .*did you mean base_load_w/,
    ],
    ["an unknown key", "file:", "files:", /:2:1 .*did you mean file\?/],
    ["an unknown key of a column", "unit: kW", "units: kW", /:5:\d+ .*did you mean unit\?/],
    ["a unit of something else", "unit: kW", "unit: km/h", /:5:\d+ .*one of W, kW/],
    ["a zone that is none", "Europe/Rome", "Europe/Roma", /:3:\d+ .*Europe\/Rome/],
    ["a form without a day", "dd.MM.yyyy HH:mm", "HH:mm", /:3:\d+ .*yyyy-MM-dd HH:mm/],
    ["no zone", ", zone: Europe/Rome", "", /:3:\d+ .*time\.zone found: nothing .*Europe\/Rome/],
    ["a strange separator", '";"', '"~"', /:2:\d+ .*tab, spaces/],
    ["a place that is none", "from: PV", "from: 0", /:5:\d+ .*whole number from 1/],
    ["another version", "version: 1", "version: 2", /:1:\d+ .*expected: 1/],
    ["YAML that is none", "columns:", "columns: {", /yaml-syntax/],
    [
      "the clock of a place that is not given",
      "zone: Europe/Rome",
      "zone: UTC, clock: longitude",
      /:3:\d+ .*a place/,
    ],
  ])("%s", (_, right, wrong, says) => {
    const path = write("wrong.yaml", MAPPING.replace(right, wrong));
    expect(complaint(() => readMapping(path, []))).toMatch(says);
  });
  test("a text that is no mapping, a file that is not there, a builtin mistyped", () => {
    expect(complaint(() => readMapping(write("wrong.yaml", "hello"), []))).toMatch(/no keys/);
    expect(complaint(() => readMapping(join(folder, "nowhere"), []))).toMatch(/no such file/);
    expect(complaint(() => readMapping("builtin:surfad", []))).toMatch(/mean builtin:surfrad/);
  });
});

describe("a mistake in the file is said at its line", () => {
  const row = "12.06.2025;10:00;1;300;0\n";
  test.each([
    [
      "a column that is not there",
      HEADER.replace("Haus", "Hans") + row,
      /:1 .*columns\.base_load_w.*mean Hans/,
    ],
    ["a time of another form", `${HEADER}2025-06-12;10:00;1;1;1\n`, /:2 .*import-time/],
    ["the same time twice", HEADER + row + row, /:3 .*day-time-order/],
    ["a word for a number", HEADER + row.replace("300", "low"), /:2 .*base_load_w .*low/],
    ["more fields than names", HEADER + row.replace("\n", ";7\n"), /:2 .*import-fields.*6 fields/],
    ["fewer fields than are wanted", `${HEADER}12.06.2025;10:00;1\n`, /:2 .*day-fields/],
    ["no rows", HEADER, /no rows/],
    ["nothing", "", /import-empty/],
    ["a zip archive", "PK\u0003\u0004", /zip archive/],
  ])("%s", (_, text, says) => {
    expect(complaint(() => imported(text))).toMatch(says);
  });
});

test("the example names every key that there is, and is read without complaint", () => {
  const text = mappingText("builtin:example");
  readMapping("builtin:example", []);
  const named = (shape: Record<string, unknown>): readonly string[] => Object.keys(shape);
  const { file, time, columns } = mappingSchema.shape;
  const wanted = [
    ...named(mappingSchema.shape),
    ...named(file.unwrap().shape),
    ...named(time.shape),
    ...named(columns.out.valueType.shape),
  ];
  expect(wanted.length).toBeGreaterThan(30);
  expect(wanted.filter((key) => !new RegExp(`\\b${key}:`).test(text))).toEqual([]);
});

describe("a made-up household", () => {
  const rows = (stepMin: number): string =>
    Array.from({ length: 1440 / stepMin }, (_, i) => {
      const minute = i * stepMin;
      const clock = `${String(Math.floor(minute / 60)).padStart(2, "0")}:${String(minute % 60).padStart(2, "0")}`;
      return `12.06.2025;${clock};;;\n`;
    }).join("");
  const bare = MAPPING.replace("  base_load_w: Haus\n", "").replace("PV, unit: kW", "PV");
  const household = (stepMin: number, seed: number): Float64Array => {
    const { pieces } = imported(HEADER + rows(stepMin), bare);
    return withUse(madeUpHousehold(seed), pieces[0]!).columns.get("base_load_w")!;
  };
  const mean = (values: Float64Array): number =>
    values.reduce((sum, value) => sum + value, 0) / values.length;

  test("is the same for the same seed and keeps its energy in longer steps", () => {
    expect(household(1, 7)).toEqual(household(1, 7));
    expect(household(1, 7)).not.toEqual(household(1, 8));
    expect(mean(household(60, 7))).toBeCloseTo(mean(household(1, 7)), 6);
    expect(mean(household(1, 7))).toBeGreaterThan(100);
  });

  test("milks by the local clock, says so in the source, and does not replace what is there", () => {
    const use = household(1, 7);
    expect(mean(use.subarray(360, 400))).toBeGreaterThan(1000);
    const { pieces } = imported(HEADER + rows(1), bare);
    const home = madeUpHousehold(7);
    const withHome = withUse(home, pieces[0]!);
    expect(withHome.source).toMatch(/base_load_w made up .*seed 7/);
    expect(() => withUse(home, withHome)).toThrow(/import-household/);
  });
});

describe("a household of another record", () => {
  /** Two whole days and a half, 10 W and its hour more in each hour, 100 W more in each day. */
  const use = Array.from({ length: 60 }, (_, hour) => {
    const local = new Date(Date.UTC(2014, 4, 17, hour)).toISOString().slice(0, 19);
    return `${local}+01:00,${100 * Math.floor(hour / 24) + 10 + (hour % 24)}\n`;
  });
  async function* pieces(text: string): AsyncGenerator<DaySeries> {
    const bytes = [new TextEncoder().encode(text)];
    yield* readDayCsvPieces({ name: "use.csv", bytes, cut: "days" });
  }
  const header = "# step: 1 h\ntime,base_load_w\n";
  const weather = readDayCsv(
    [
      "time,ghi_w_m2",
      "2025-06-12T23:00:00+10:00,0",
      "2025-06-13T00:00:00+10:00,0",
      "2025-06-13T12:00:00+10:00,500",
      "2025-06-14T12:00:00+10:00,500",
      "",
    ].join("\n"),
    "weather.csv",
  );

  test("goes by the clock, its whole days in turn", async () => {
    const home = await recordedHousehold("use.csv", pieces(header + use.join("")));
    const { columns, source } = withUse(home, { ...weather, stepMs: 3_600_000 });
    const [late, early, noon, nextNoon] = columns.get("base_load_w")!;
    expect(source).toMatch(/use\.csv, its 2 whole days in turn/);
    expect([late! % 100, early! % 100, noon! % 100, nextNoon! % 100]).toEqual([33, 10, 22, 22]);
    expect(Math.abs(noon! - nextNoon!)).toBe(100);
    expect(Math.abs(noon! - early!)).toBe(12);
  });

  test("has to have a whole day of use", async () => {
    const half = recordedHousehold("use.csv", pieces(header + use.slice(0, 20).join("")));
    await expect(half).rejects.toThrow(/no day without a hole/);
    const none = recordedHousehold("use.csv", pieces("time,ghi_w_m2\n2025-06-12T00:00:00Z,5\n"));
    await expect(none).rejects.toThrow(/no column base_load_w/);
  });
});
