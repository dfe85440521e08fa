import { describe, expect, test } from "vitest";
import { UserError } from "../../service/errors.ts";
import type { UserProblem } from "../../service/errors.ts";
import { readDayCsv, readDayCsvPieces } from "../../simulator/days/read-csv.ts";

const T0 = Date.parse("2025-06-12T00:00:00Z");

function problemsOf(file: string | Uint8Array): readonly UserProblem[] {
  const bytes = typeof file === "string" ? new TextEncoder().encode(file) : file;
  try {
    // Consumed, so that every check runs.
    expect([...readDayCsvPieces({ name: "day.csv", bytes: [bytes], cut: "days" })]).not.toEqual([]);
  } catch (error) {
    if (error instanceof UserError) return error.problems;
    throw error;
  }
  return [];
}

/** One row a quarter of an hour, for a whole day. */
function wholeDay(columns: string, rowOf: (hour: number) => string): string {
  const rows = Array.from({ length: 96 }, (_, i) => {
    const time = new Date(T0 + i * 900_000).toISOString().replace(".000Z", "Z");
    return `${time},${rowOf(i / 4)}`;
  });
  return `time,${columns}\n${rows.join("\n")}\n`;
}

const sun = (hour: number): number => Math.max(0, Math.sin((Math.PI * (hour - 6)) / 12));
const rows = (...lines: readonly string[]): string =>
  ["time,base_load_w,pv_power_w", ...lines, ""].join("\n");
const first = "2025-06-12T00:00:00Z,300,0";
const utf16 = (text: string): Uint8Array => new Uint8Array(Buffer.from(`\uFEFF${text}`, "utf16le"));

interface Mistake {
  readonly what: string;
  readonly file: string | Uint8Array;
  readonly code: string;
  readonly line?: number;
  readonly says?: RegExp;
}

const MISTAKES: readonly Mistake[] = [
  // Time
  {
    what: "local time without an offset",
    file: rows("2025-06-12T00:00:00,300,0"),
    code: "day-time",
    line: 2,
    says: /bywash import.*time zone/,
  },
  {
    what: "local time with a blank",
    file: rows(first, "2025-06-12 00:01:00,300,0"),
    code: "day-time",
    line: 3,
    says: /bywash import/,
  },
  { what: "a date alone", file: rows("2025-06-12,300,0"), code: "day-time", line: 2 },
  { what: "day before month", file: rows("12/06/2025 00:00,300,0"), code: "day-time", line: 2 },
  { what: "seconds since 1970", file: rows("1749686400,300,0"), code: "day-time", line: 2 },
  { what: "no time", file: rows(",300,0"), code: "day-time", line: 2 },
  { what: "30 February", file: rows("2025-02-30T00:00:00Z,300,0"), code: "day-time", line: 2 },
  { what: "24 o'clock", file: rows("2025-06-12T24:00:00Z,300,0"), code: "day-time", line: 2 },
  {
    what: "an offset without a colon",
    file: rows("2025-06-12T00:00:00+0200,300,0"),
    code: "day-time",
    line: 2,
  },
  {
    what: "the same instant twice",
    file: rows(first, first),
    code: "day-time-order",
    line: 3,
    says: /same instant/,
  },
  {
    what: "the same instant by two clocks",
    file: rows(first, "2025-06-12T02:00:00+02:00,300,0"),
    code: "day-time-order",
    line: 3,
  },
  {
    what: "time that goes back",
    file: rows(first, "2025-06-11T23:59:00Z,300,0"),
    code: "day-time-order",
    line: 3,
  },
  {
    what: "clocks put back, with the summer's offset kept",
    file: rows("2025-10-26T02:59:00+02:00,300,0", "2025-10-26T02:00:00+02:00,300,0"),
    code: "day-time-order",
    line: 3,
  },
  // Values
  { what: "NaN", file: rows("2025-06-12T00:00:00Z,NaN,0"), code: "day-value", line: 2 },
  { what: "nan", file: rows("2025-06-12T00:00:00Z,nan,0"), code: "day-value", line: 2 },
  { what: "inf", file: rows("2025-06-12T00:00:00Z,inf,0"), code: "day-value", line: 2 },
  { what: "-Infinity", file: rows("2025-06-12T00:00:00Z,-Infinity,0"), code: "day-value", line: 2 },
  { what: "null", file: rows("2025-06-12T00:00:00Z,null,0"), code: "day-value", line: 2 },
  {
    what: "a number in base 16",
    file: rows("2025-06-12T00:00:00Z,0x10,0"),
    code: "day-value",
    line: 2,
  },
  {
    what: "a unit behind the number",
    file: rows("2025-06-12T00:00:00Z,300 W,0"),
    code: "day-value",
    line: 2,
  },
  {
    what: "thousands set apart",
    file: rows("2025-06-12T00:00:00Z,1 300,0"),
    code: "day-value",
    line: 2,
  },
  {
    what: "a number beyond all numbers",
    file: rows("2025-06-12T00:00:00Z,1e999,0"),
    code: "day-range",
    line: 2,
  },
  {
    what: "a decimal comma in quotation marks",
    file: rows('2025-06-12T00:00:00Z,"300,5",0'),
    code: "day-value",
    line: 2,
    says: /300\.5/,
  },
  {
    what: "a decimal comma",
    file: rows("2025-06-12T00:00:00Z,300,5,0"),
    code: "day-fields",
    line: 2,
    says: /decimal/,
  },
  {
    what: "a stage that is none",
    file: "time,charge_stage\n2025-06-12T00:00:00Z,boost\n",
    code: "day-value",
    line: 2,
    says: /absorption/,
  },
  {
    what: "curtailed by half",
    file: "time,curtailed\n2025-06-12T00:00:00Z,0.5\n",
    code: "day-range",
    line: 2,
    says: /0 or 1/,
  },
  // Codes for "missing", and other units, in a single row
  {
    what: "−9999",
    file: "time,ghi_w_m2\n2025-06-12T00:00:00Z,-9999\n",
    code: "day-range",
    line: 2,
    says: /empty/,
  },
  {
    what: "−7999.0",
    file: "time,dni_w_m2\n2025-06-12T00:00:00Z,-7999.0\n",
    code: "day-range",
    line: 2,
    says: /empty/,
  },
  {
    what: "9999",
    file: "time,dhi_w_m2\n2025-06-12T00:00:00Z,9999\n",
    code: "day-range",
    line: 2,
    says: /empty/,
  },
  {
    what: "soc over 100",
    file: "time,battery_soc_percent\n2025-06-12T00:00:00Z,512\n",
    code: "day-range",
    line: 2,
    says: /another column/,
  },
  {
    what: "soc under 0",
    file: "time,battery_soc_percent\n2025-06-12T00:00:00Z,-1\n",
    code: "day-range",
    line: 2,
  },
  {
    what: "a negative voltage",
    file: "time,battery_voltage_v\n2025-06-12T00:00:00Z,-12\n",
    code: "day-range",
    line: 2,
    says: /swapped/,
  },
  {
    what: "millivolts",
    file: "time,battery_voltage_v\n2025-06-12T00:00:00Z,52100\n",
    code: "day-range",
    line: 2,
    says: /millivolt/,
  },
  {
    what: "kelvin",
    file: "time,air_temperature_c\n2025-06-12T00:00:00Z,288.1\n",
    code: "day-range",
    line: 2,
    says: /kelvin/,
  },
  {
    what: "milliwatts",
    file: "time,load_pump_w\n2025-06-12T00:00:00Z,7500000\n",
    code: "day-range",
    line: 2,
    says: /milliwatts/,
  },
  // The form of the file
  { what: "nothing", file: "", code: "day-empty" },
  { what: "comments alone", file: "# site: malga\n", code: "day-empty" },
  { what: "a header alone", file: rows(), code: "day-empty" },
  { what: "no header", file: `${first}\n`, code: "day-header", line: 1, says: /header is missing/ },
  {
    what: "semicolons",
    file: "time;ghi_w_m2\n2025-06-12T00:00:00Z;5\n",
    code: "day-header",
    line: 1,
    says: /bywash import/,
  },
  {
    what: "tabs",
    file: "time\tghi_w_m2\n2025-06-12T00:00:00Z\t5\n",
    code: "day-header",
    line: 1,
    says: /tabs/,
  },
  {
    what: "time not first",
    file: "ghi_w_m2,time\n5,2025-06-12T00:00:00Z\n",
    code: "day-header",
    line: 1,
    says: /first/,
  },
  {
    what: "a column that is not ours",
    file: "time,ghi\n2025-06-12T00:00:00Z,5\n",
    code: "day-column",
    line: 1,
  },
  {
    what: "a column in kilowatts",
    file: "time,pv_power_kw\n2025-06-12T00:00:00Z,5\n",
    code: "day-column",
    line: 1,
    says: /pv_power_w/,
  },
  {
    what: "a column twice",
    file: "time,ghi_w_m2,ghi_w_m2\n2025-06-12T00:00:00Z,5,5\n",
    code: "day-column-twice",
    line: 1,
  },
  {
    what: "a field too few",
    file: rows("2025-06-12T00:00:00Z,300", first),
    code: "day-fields",
    line: 2,
  },
  {
    what: "a field too many",
    file: rows("2025-06-12T00:00:00Z,300,0,7"),
    code: "day-fields",
    line: 2,
  },
  {
    what: "a last line that was cut off",
    file: `${rows(first)}2025-06-12T00:01:00Z,30`,
    code: "day-fields",
    line: 3,
    says: /cut off/,
  },
  {
    what: "a quotation mark left open",
    file: rows(first, '2025-06-12T00:01:00Z,"300,0'),
    code: "day-csv",
  },
  {
    what: "a step that is none",
    file: `# step: quick\n${rows(first)}`,
    code: "day-comment",
    line: 1,
  },
  {
    what: "a latitude beyond the pole",
    file: `# latitude: 99\n${rows(first)}`,
    code: "day-comment",
    line: 1,
  },
  { what: "UTF-16", file: utf16(rows(first)), code: "not-text", says: /UTF-16/ },
  {
    what: "Latin-1",
    file: new Uint8Array(Buffer.from("# site: Sé\ntime\n", "latin1")),
    code: "not-text",
    line: 1,
  },
  {
    what: "a gzip archive",
    file: new Uint8Array([0x1f, 0x8b, 8, 0]),
    code: "not-text",
    says: /gzip/,
  },
  { what: "binary data", file: new Uint8Array([7, 0, 9]), code: "not-text", says: /binary/ },
  // What only the whole record shows
  {
    what: "kilowatts of PV",
    file: wholeDay("pv_power_w", (h) => (5 * sun(h)).toFixed(3)),
    code: "day-unit",
    line: 1,
    says: /kilowatts/,
  },
  {
    what: "kilowatts of use",
    file: wholeDay("base_load_w", (h) => (0.3 + h / 9).toFixed(3)),
    code: "day-unit",
    line: 1,
    says: /kilowatts/,
  },
  {
    what: "kilowatts per square metre",
    file: wholeDay("ghi_w_m2", (h) => sun(h).toFixed(3)),
    code: "day-unit",
    line: 1,
    says: /square metre/,
  },
  {
    what: "a fraction for percent",
    file: wholeDay("battery_soc_percent", (h) => (0.5 + h / 60).toFixed(3)),
    code: "day-unit",
    line: 1,
    says: /fraction/,
  },
  {
    what: "voltage and current swapped",
    file: wholeDay(
      "battery_voltage_v,battery_current_a",
      (h) => `${(40 * sun(h)).toFixed(1)},52.1`,
    ),
    code: "day-swapped",
    line: 1,
    says: /swapped/,
  },
  {
    what: "diffuse and global swapped",
    file: wholeDay(
      "ghi_w_m2,dhi_w_m2",
      (h) => `${(200 * sun(h)).toFixed(0)},${(800 * sun(h)).toFixed(0)}`,
    ),
    code: "day-swapped",
    line: 1,
    says: /dhi_w_m2 and ghi_w_m2/,
  },
  {
    what: "power and potential swapped",
    file: wholeDay(
      "pv_power_w,pv_potential_w",
      (h) => `${(5000 * sun(h)).toFixed(0)},${(900 * sun(h)).toFixed(0)}`,
    ),
    code: "day-swapped",
    line: 1,
  },
  {
    what: "base and total swapped",
    file: wholeDay("base_load_w,total_load_w", () => "1500,300"),
    code: "day-swapped",
    line: 1,
  },
];

test("the table is as long as it was", () => {
  expect(MISTAKES.length).toBeGreaterThanOrEqual(60);
});

describe("a mistake is said where it stands", () => {
  test.each(MISTAKES)("$what", ({ file, code, line, says }) => {
    const problems = problemsOf(file);
    expect(problems[0]).toMatchObject({ code });
    if (line !== undefined) expect(problems[0]?.where).toBe(`day.csv:${line}`);
    else expect(problems[0]?.where).toMatch(/^day\.csv(:\d+)?$/);
    if (says !== undefined)
      expect(new UserError(problems).message.replace(/\s+/g, " ")).toMatch(says);
  });
});

describe("what looks odd and is right", () => {
  test.each([
    ["a mark of byte order and carriage returns", `\uFEFF${rows(first).replaceAll("\n", "\r\n")}`],
    ["no line end at the end", rows(first).trimEnd()],
    ["empty lines", rows(first, "", "", "2025-06-12T00:01:00Z,300,0", "")],
    ["comments below the header", rows("# site: malga", first)],
    [
      "the hour that comes twice, by its offsets",
      rows("2025-10-26T02:59:00+02:00,300,0", "2025-10-26T02:00:00+01:00,300,0"),
    ],
    [
      "steps of no one length",
      rows(first, "2025-06-12T00:00:07Z,1,2", "2025-06-12T00:05:00.5Z,1,2"),
    ],
    ["a number with an exponent", rows("2025-06-12T00:00:00Z,3e2,+0.5")],
    ["sensors below zero at night", "time,ghi_w_m2\n2025-06-12T00:00:00Z,-9.8\n"],
    [
      "snow on the panels: whole watts all day",
      wholeDay("pv_power_w", (h) => String(Math.round(9 * sun(h)))),
    ],
    ["a hut where nothing runs but the router", wholeDay("base_load_w", () => "7.2")],
    [
      "a battery that only discharges",
      wholeDay("battery_voltage_v,battery_current_a", (h) => `${(52 - h / 20).toFixed(2)},-9.5`),
    ],
    [
      "the sun through thin cloud: nearly all light is diffuse",
      wholeDay(
        "ghi_w_m2,dhi_w_m2",
        (h) => `${(300 * sun(h)).toFixed(0)},${(310 * sun(h)).toFixed(0)}`,
      ),
    ],
  ])("%s", (_, file) => {
    expect(problemsOf(file)).toEqual([]);
  });
});

test("the first problem of a long file is told without reading it to its end", () => {
  let blocks = 0;
  function* bytes(): Generator<Uint8Array> {
    yield new TextEncoder().encode(rows("yesterday,300,0"));
    for (; blocks < 1000; blocks += 1) yield new TextEncoder().encode("x,y,z\n");
  }
  const pieces = readDayCsvPieces({ name: "day.csv", bytes: bytes(), cut: "days" });
  expect(() => pieces.next()).toThrow(/day-time/);
  expect(blocks).toBe(0);
});

test("a comment's value survives whatever stands before the header", () => {
  const series = readDayCsv(
    "\n# site: malga\n\n# for people\ntime,ghi_w_m2\n2025-06-12T00:00:00Z,5\n",
    "d",
  );
  expect(series.site).toBe("malga");
});
