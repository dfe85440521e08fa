import { readFileSync } from "node:fs";
import { describe, expect, test } from "vitest";
import { UserError } from "../../service/errors.ts";
import type { UserProblem } from "../../service/errors.ts";
import { readDayCsv } from "../../simulator/days/read-csv.ts";
import { parseTime } from "../../simulator/days/rfc3339.ts";
import { writeDayCsv } from "../../simulator/days/write-csv.ts";

const HEADER = "time,base_load_w,pv_potential_w";

function problemsOf(text: string): readonly UserProblem[] {
  try {
    readDayCsv(text, "day.csv");
  } catch (error) {
    if (error instanceof UserError) return error.problems;
    throw error;
  }
  return [];
}

function day(...rows: readonly string[]): string {
  return [HEADER, ...rows].join("\n");
}

test("a day file with comments, offsets and empty fields", () => {
  const text = [
    "# site: malga",
    "# step: 60 s",
    "# latitude: 44.2",
    "# longitude: 6.9",
    "# source: by hand",
    "time,base_load_w,charge_stage,load_spring-pump_w",
    "2025-06-12T00:00:00+02:00,300,bulk,0",
    "2025-06-12T00:01:00+02:00,,float,750",
  ].join("\r\n");
  const series = readDayCsv(text, "day.csv");
  expect(series.site).toBe("malga");
  expect(series.stepMs).toBe(60_000);
  expect(series.place).toEqual({ latitudeDeg: 44.2, longitudeDeg: 6.9, utcOffsetMs: 7_200_000 });
  expect(series.timesMs[0]).toBe(Date.parse("2025-06-11T22:00:00Z"));
  expect([...(series.columns.get("base_load_w") ?? [])]).toEqual([300, NaN]);
  expect([...(series.columns.get("charge_stage") ?? [])]).toEqual([0, 2]);
  expect([...(series.columns.get("load_spring-pump_w") ?? [])]).toEqual([0, 750]);
});

test("without a step comment the usual distance of rows is taken", () => {
  const rows = [0, 10, 20, 40, 50].map((s) => `2025-06-12T00:00:${s || "00"}Z,1,2`);
  expect(readDayCsv(day(...rows), "day.csv").stepMs).toBe(10_000);
});

describe("what is wrong is said with its line", () => {
  test.each([
    ["time order: backward", day("2025-06-12T00:01:00Z,1,2", "2025-06-12T00:00:00Z,1,2"), 3],
    ["time order: twice", day("2025-06-12T00:01:00Z,1,2", "2025-06-12T02:01:00+02:00,1,2"), 3],
  ])("%s", (_, text, line) => {
    expect(problemsOf(text)).toMatchObject([{ code: "day-time-order", where: `day.csv:${line}` }]);
  });

  test.each([
    ["no offset", "2025-06-12T00:00:00"],
    ["offset without colon", "1999-12-31T19:00:00-0400"],
    ["no such date", "2025-02-30T00:00:00Z"],
    ["leap second", "1990-12-31T23:59:60Z"],
    ["a local form", "12.06.2025 00:00"],
  ])("time: %s", (_, time) => {
    const problems = problemsOf(day(`${time},1,2`));
    expect(problems).toMatchObject([{ code: "day-time", where: "day.csv:2", found: time }]);
  });

  test.each(["NaN", "Infinity", "-", "1 000", "1.000.0"])("value: %s", (value) => {
    const problems = problemsOf(day("2025-06-12T00:00:00Z,1,2", `2025-06-12T00:01:00Z,${value},2`));
    expect(problems).toMatchObject([
      { code: "day-value", where: "day.csv:3", key: "base_load_w", found: value },
    ]);
  });

  test("a row with too few fields", () => {
    const problems = problemsOf(day("2025-06-12T00:00:00Z,1"));
    expect(problems).toMatchObject([{ code: "day-fields", where: "day.csv:2" }]);
  });

  test("an unknown column, with the nearest known one", () => {
    const problems = problemsOf("# hello\ntime,base_load,ghi_w_m2\n2025-06-12T00:00:00Z,1,2");
    expect(problems).toMatchObject([
      { code: "day-column", where: "day.csv:2", found: "base_load", suggestion: "base_load_w" },
    ]);
  });

  test("a column twice, a missing time column, no rows, nothing at all", () => {
    const twice = problemsOf("time,ghi_w_m2,ghi_w_m2\n2025-06-12T00:00:00Z,1,2");
    expect(twice).toMatchObject([{ code: "day-column-twice" }]);
    expect(problemsOf("when,ghi_w_m2\n")).toMatchObject([{ code: "day-header" }]);
    expect(problemsOf(HEADER)).toMatchObject([{ code: "day-empty" }]);
    expect(problemsOf("")).toMatchObject([{ code: "day-empty" }]);
  });

  test("a step or coordinate that cannot be read", () => {
    const rows = `\n${day("2025-06-12T00:00:00Z,1,2")}`;
    expect(problemsOf(`# step: quick${rows}`)).toMatchObject([
      { code: "day-comment", key: "step" },
    ]);
    expect(problemsOf(`# latitude: 99${rows}`)).toMatchObject([{ key: "latitude" }]);
  });

  test("no more than ten problems of a file that is wrong throughout", () => {
    const rows = Array.from({ length: 50 }, () => "yesterday,a,b");
    expect(problemsOf(day(...rows))).toHaveLength(10);
  });
});

test("a hole of more than ten minutes is said, one of ten is not", () => {
  const rows = ["00:00:00", "00:10:00", "00:20:01"].map((time) => `2025-06-12T${time}Z,1,2`);
  const { gaps } = readDayCsv(
    `# step: 60 s\n${day("2025-06-11T23:59:00Z,1,2", ...rows)}`,
    "day.csv",
  );
  expect(gaps).toEqual([
    {
      fromMs: Date.parse("2025-06-12T00:00:00Z") + 600_000,
      toMs: Date.parse("2025-06-12T00:20:01Z"),
    },
  ]);
});

test("RFC 3339 forms", () => {
  expect(parseTime("2025-10-15T17:48:50Z")?.atMs).toBe(Date.parse("2025-10-15T17:48:50Z"));
  expect(parseTime("2025-10-15t17:48:50.5+05:30")?.atMs).toBe(Date.parse("2025-10-15T12:18:50.5Z"));
  expect(parseTime("2025-10-15T17:48:50-00:00")?.offsetMs).toBe(-0);
});

test("what was written reads the same, the shipped sample included", () => {
  const path = new URL("../../simulator/samples/measured-broken-cloud.csv", import.meta.url);
  const sample = readDayCsv(readFileSync(path, "utf8"), "sample");
  const again = readDayCsv(writeDayCsv(sample), "sample");
  expect(again).toEqual(sample);
  expect(sample.timesMs).toHaveLength(1440);
  expect(sample.gaps).toEqual([]);
});
