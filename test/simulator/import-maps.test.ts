/** The mappings that come with Bywash read the files that they are for, at the right time of day. */
import { readFileSync, readdirSync } from "node:fs";
import { describe, expect, test } from "vitest";
import { sunPosition } from "../../service/solar/sun.ts";
import type { DaySeries } from "../../simulator/days/day-file.ts";
import { importFiles } from "../../simulator/import/import-files.ts";
import { builtinMaps, readMapping } from "../../simulator/import/read-mapping.ts";

const FILES = new URL("../data/weather-files/", import.meta.url).pathname;

interface Sample {
  readonly map: string;
  readonly file: string;
  readonly set?: readonly string[];
  readonly rows: number;
  /** Begin of the first row, and its offset from UTC in hours. */
  readonly begins: string;
  readonly offsetH: number;
  /** First row, as it stands in the file, converted by hand. */
  readonly first: Readonly<Record<string, number>>;
  /** Greatest part of the global irradiance that beam and diffuse may leave unexplained. */
  readonly closure: number | null;
}

const TUCSON = "place={latitude: 32.22969, longitude: -110.95534}";

const SAMPLES: readonly Sample[] = [
  {
    map: "surfrad",
    file: "surfrad.dat",
    rows: 60,
    begins: "2016-01-01T18:17:00Z",
    offsetH: -7,
    first: {},
    closure: 0.03,
  },
  {
    map: "midc",
    file: "midc.txt",
    rows: 60,
    begins: "2018-10-14T16:58:00Z",
    offsetH: -7,
    first: { ghi_w_m2: 381.641, air_temperature_c: -7.763 },
    closure: null,
  },
  {
    map: "midc-raw",
    file: "midc-raw.txt",
    set: [TUCSON],
    rows: 60,
    begins: "2018-10-18T16:58:00Z",
    offsetH: -7,
    first: {
      ghi_w_m2: 664.662,
      dni_w_m2: 964.943,
      dhi_w_m2: 63.8352,
      air_temperature_c: 20.72,
      wind_speed_m_s: 2.95,
    },
    closure: 0.03,
  },
  {
    map: "srrl",
    file: "srrl.csv",
    rows: 60,
    begins: "2022-01-20T16:58:00Z",
    offsetH: -7,
    first: { ghi_w_m2: 419.424 },
    closure: null,
  },
  {
    map: "tmy3-measured",
    file: "tmy3-measured.csv",
    rows: 60,
    begins: "2012-05-17T14:57:00Z",
    offsetH: -7,
    first: {},
    closure: 0.03,
  },
  // Hourly means against the sun at mid-hour: low sun and cloud within the hour cost the rest.
  {
    map: "tmy3",
    file: "tmy3.csv",
    rows: 60,
    begins: "2001-01-31T21:00:00Z",
    offsetH: -9,
    first: {},
    closure: 0.1,
  },
  {
    map: "tm2",
    file: "tm2.tm2",
    rows: 48,
    begins: "2001-06-19T05:00:00Z",
    offsetH: -5,
    first: { ghi_w_m2: 0, dni_w_m2: 0, dhi_w_m2: 0 },
    closure: 0.05,
  },
  {
    map: "epw",
    file: "epw.epw",
    rows: 48,
    begins: "2001-06-19T07:00:00Z",
    offsetH: -7,
    first: { ghi_w_m2: 0, dni_w_m2: 0, dhi_w_m2: 0 },
    closure: 0.05,
  },
  {
    map: "sandia-abq",
    file: "sandia-abq.dat",
    rows: 60,
    begins: "2015-11-11T18:13:00Z",
    offsetH: -7,
    first: {
      ghi_w_m2: 753.8282,
      dni_w_m2: 1011.114,
      dhi_w_m2: 269.3881,
      air_temperature_c: 6.242,
      wind_speed_m_s: 7.925,
    },
    // Beam and diffuse exceed global by a seventh there: the light does not tell the hour.
    closure: null,
  },
  {
    map: "normalised-pv",
    file: "almeria.csv",
    set: ["columns.pv_potential_w.times=6600", "place={latitude: 36.931, longitude: -2.472}"],
    rows: 60,
    begins: "2023-10-15T11:30:59Z",
    offsetH: 0,
    first: { pv_potential_w: 5419.502247 },
    closure: null,
  },
  {
    map: "normalised-pv",
    file: "turin.csv",
    set: ["time.zone=+01:00", "place={latitude: 45.065, longitude: 7.659}"],
    rows: 60,
    begins: "2019-03-06T10:30:00Z",
    offsetH: 1,
    first: { pv_potential_w: 342.375124 },
    closure: null,
  },
  {
    map: "rmis",
    file: "rmis.csv",
    rows: 4,
    begins: "2021-06-12T18:00:00Z",
    offsetH: -7,
    first: { ghi_w_m2: 905.125, dni_w_m2: 880.25, dhi_w_m2: 105.5 },
    closure: null,
  },
  {
    map: "serf-east",
    file: "serf-east.csv",
    rows: 4,
    begins: "2021-06-12T18:00:00Z",
    offsetH: -7,
    first: { pv_potential_w: 5120.5 },
    closure: null,
  },
];

function read({ map, file, set = [] }: Pick<Sample, "map" | "file" | "set">): DaySeries {
  const notes = { unused: new Set<string>(), emptied: new Map<string, number>() };
  const mapping = readMapping(`builtin:${map}`, set);
  const pieces = [...importFiles({ paths: [FILES + file], mapping, notes })];
  const rows = pieces.flatMap(({ timesMs }) => [...timesMs]);
  const names = [...(pieces[0]?.columns.keys() ?? [])];
  return {
    ...pieces[0]!,
    timesMs: Float64Array.from(rows),
    columns: new Map(
      names.map((name) => [
        name,
        Float64Array.from(pieces.flatMap(({ columns }) => [...(columns.get(name) ?? [])])),
      ]),
    ),
  };
}

/** Σ|global − (beam · cos zenith + diffuse)| over Σ global, with the sun at mid-interval. */
function unexplained(series: DaySeries): number {
  const { latitudeDeg, longitudeDeg } = series.place!;
  let wrong = 0;
  let all = 0;
  for (const [row, atMs] of series.timesMs.entries()) {
    const [global, beam, diffuse] = ["ghi_w_m2", "dni_w_m2", "dhi_w_m2"].map(
      (name) => series.columns.get(name)?.[row] ?? NaN,
    );
    const { altitudeDeg } = sunPosition(atMs + series.stepMs / 2, latitudeDeg, longitudeDeg);
    if (!(altitudeDeg > 10)) continue;
    wrong += Math.abs(global! - (beam! * Math.sin((altitudeDeg * Math.PI) / 180) + diffuse!));
    all += global!;
  }
  return wrong / all;
}

describe.each(SAMPLES)("builtin:$map", (sample) => {
  const series = read(sample);

  test("finds every row, its time and its values", () => {
    expect(series.timesMs).toHaveLength(sample.rows);
    expect(series.timesMs[0]).toBe(Date.parse(sample.begins));
    expect(series.utcOffsetsMs?.[0]).toBe(sample.offsetH * 3_600_000);
    for (const [column, value] of Object.entries(sample.first)) {
      expect(series.columns.get(column)?.[0], column).toBeCloseTo(value, 6);
    }
    for (const values of series.columns.values()) {
      expect(values.filter((value) => !Number.isNaN(value)).length).toBe(sample.rows);
    }
  });
});

describe.each(SAMPLES.filter(({ closure }) => closure !== null))("builtin:$map", (sample) => {
  test("puts the sun where the light says it was", () => {
    const series = read(sample);
    expect(unexplained(series)).toBeLessThan(sample.closure!);
    // The check would see a zone that is an hour wrong.
    const late = { ...series, timesMs: series.timesMs.map((atMs) => atMs + 3_600_000) };
    expect(unexplained(late)).toBeGreaterThan(2 * unexplained(series));
  });
});

test("PVGIS: UTC, the satellite's instant in mid-interval, one year, and no footer", () => {
  const series = read({ map: "pvgis", file: "pvgis.csv" });
  expect(series.timesMs).toHaveLength(5);
  // 22:00 UTC, 0.1761 h (634 s) later, half an hour before that.
  expect(new Date(series.timesMs[0]!).toISOString()).toBe("2001-01-31T21:40:34.000Z");
  expect(series.utcOffsetsMs?.[0]).toBe(0);
  expect(series.columns.get("ghi_w_m2")?.[3]).toBe(480);
  expect(series.place).toMatchObject({ latitudeDeg: 44.2, longitudeDeg: 6.9 });
});

test("DTU: UTC, and an empty field stays one", () => {
  const series = read({ map: "dtu", file: "dtu.csv" });
  expect(series.timesMs).toHaveLength(5);
  expect(new Date(series.timesMs[0]!).toISOString()).toBe("2021-06-12T11:00:00.000Z");
  expect([...series.columns.get("ghi_w_m2")!]).toEqual([700.5, 702, NaN, 310.75, 420.25]);
  expect([...series.columns.get("dhi_w_m2")!].slice(0, 2)).toEqual([110.125, 110.25]);
});

test("a head with fewer names than fields is refused: each column could be its neighbour", () => {
  const file = "midc-raw-short-header.txt";
  expect(() => read({ map: "midc-raw", file })).toThrow(/:2\b[\s\S]*import-fields/);
});

test("a typical year without its one year goes back in time, and the message says what to do", () => {
  expect(() => read({ map: "tmy3-measured", file: "tmy3.csv" })).toThrow(/time\.year=2001/);
});

test("every mapping is tried here, and every file belongs to a mapping", () => {
  const tried = [...new Set(SAMPLES.map(({ map }) => map)), "dtu", "pvgis", "example"].sort();
  expect(builtinMaps()).toEqual(tried);
  const files = readdirSync(FILES).filter((name) => name !== "SOURCE.txt");
  const source = readFileSync(`${FILES}SOURCE.txt`, "utf8");
  for (const file of files) expect(source).toContain(file);
});
