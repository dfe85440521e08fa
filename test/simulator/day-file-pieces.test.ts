import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, test } from "vitest";
import { loadSite } from "../../config/load.ts";
import { createLocalCalendar } from "../../config/local-calendar.ts";
import { step } from "../../service/control/step.ts";
import type { DaySeries } from "../../simulator/days/day-file.ts";
import { readDayCsv, readDayCsvPieces } from "../../simulator/days/read-csv.ts";
import { readDayCsvFile } from "../../simulator/days/open-day-file.ts";
import { writeDayCsv } from "../../simulator/days/write-csv.ts";
import { replay } from "../../simulator/replay.ts";
import { syntheticDay } from "../../simulator/weather/synthetic-day.ts";

const folder = mkdtempSync(join(tmpdir(), "bywash-pieces-"));
afterAll(() => rmSync(folder, { recursive: true }));

const MINUTE_MS = 60_000;

function csv(times: readonly string[], rowOf: (index: number) => string): string {
  return ["time,ghi_w_m2,dni_w_m2", ...times.map((time, i) => `${time},${rowOf(i)}`), ""].join(
    "\n",
  );
}

function minutes(from: string, count: number): readonly string[] {
  const startMs = Date.parse(from);
  return Array.from({ length: count }, (_, i) => new Date(startMs + i * MINUTE_MS).toISOString());
}

function pieces(text: string): readonly DaySeries[] {
  const bytes = [new TextEncoder().encode(text)];
  return [...readDayCsvPieces({ name: "day.csv", bytes, cut: "days" })];
}

const starts = (text: string): readonly string[] =>
  pieces(text).map(({ timesMs }) => new Date(timesMs[0] ?? 0).toISOString());

describe("a file is cut", () => {
  test("at each local midnight, by the stamps' own clock", () => {
    const text = csv(minutes("2025-06-11T12:00:00Z", 2880), () => "5,5").replaceAll(
      /^(2025-06-1\d)T(\d\d:\d\d):00\.000Z/gm,
      "$1T$2:00-10:00",
    );
    expect(starts(text)).toEqual([
      "2025-06-11T22:00:00.000Z",
      "2025-06-12T10:00:00.000Z",
      "2025-06-13T10:00:00.000Z",
    ]);
  });

  test("not in a hole of the record, which somebody has to see from both sides", () => {
    const times = [
      ...minutes("2025-06-11T23:00:00Z", 50),
      ...minutes("2025-06-12T00:30:00Z", 2000),
    ];
    const [one, two] = pieces(csv(times, () => "5,5"));
    expect(one?.gaps).toHaveLength(1);
    expect(new Date(two?.timesMs[0] ?? 0).toISOString()).toBe("2025-06-12T00:31:00.000Z");
  });

  test("not while a column is empty that had values", () => {
    const times = minutes("2025-06-11T23:00:00Z", 1000);
    const hole = (i: number): boolean => i >= 55 && i < 70;
    expect(starts(csv(times, (i) => (hole(i) ? "5," : "5,5")))).toEqual([
      "2025-06-11T23:00:00.000Z",
      "2025-06-12T00:10:00.000Z",
    ]);
  });
});

test("only one piece is read ahead of the reader", () => {
  let blocks = 0;
  function* bytes(): Generator<Uint8Array> {
    yield new TextEncoder().encode("time,ghi_w_m2,dni_w_m2\n");
    for (let day = 1; day <= 28; day += 1, blocks += 1) {
      const rows = minutes(new Date(Date.UTC(2025, 1, day)).toISOString(), 1440);
      yield new TextEncoder().encode(`${rows.map((time) => `${time},5,5`).join("\n")}\n`);
    }
  }
  let count = 0;
  for (const piece of readDayCsvPieces({ name: "day.csv", bytes: bytes(), cut: "days" })) {
    count += 1;
    expect(piece.timesMs).toHaveLength(1440);
    expect(blocks - count).toBeLessThanOrEqual(1);
  }
  expect(count).toBe(28);
});

test("letters of several bytes may lie across the blocks of a file", () => {
  const bytes = new TextEncoder().encode("# site: Sèrra\ntime,ghi_w_m2\n2025-06-12T00:00:00Z,5\n");
  const parts = Array.from(bytes, (byte) => new Uint8Array([byte]));
  const [series] = readDayCsvPieces({ name: "day.csv", bytes: parts, cut: "days" });
  expect(series?.site).toBe("Sèrra");
});

test("a night in two pieces comes to the same as in one", () => {
  const site = loadSite({
    path: new URL("../../config/examples/malga.yaml", import.meta.url).pathname,
  });
  // From noon to the next morning, so that a load runs before the cut.
  const rows = ["2025-06-12", "2025-06-13"].flatMap((localDate, i) => {
    const day = syntheticDay({ site, localDate, seed: i + 1, kind: "broken" });
    const lines = writeDayCsv(day).split("\n");
    const header = lines.findIndex((line) => line.startsWith("time,"));
    const minutesOfDay = lines.slice(header + 1, header + 1441);
    return i === 0 ? [lines[header] ?? "", ...minutesOfDay.slice(720)] : minutesOfDay.slice(0, 300);
  });
  const local = ["# latitude: 44.2", "# longitude: 6.9", ...rows, ""]
    .join("\n")
    .replaceAll(
      /^(.*T.*)Z,/gm,
      (_, at: string) =>
        `${new Date(Date.parse(`${at}Z`) + 7_200_000).toISOString().slice(0, 19)}+02:00,`,
    );
  const path = join(folder, "night.csv");
  writeFileSync(path, local);
  const options = {
    site,
    step,
    calendar: createLocalCalendar(site.timeZone),
    stepS: 60,
    startFraction: 0.95,
    mayBridge: false,
    plant: null,
    onDecision: null,
  } as const;
  const cut = [...readDayCsvFile(path)];
  expect(cut.map(({ timesMs }) => timesMs.length)).toEqual([720, 300]);
  const inOne = replay({ ...options, days: [readDayCsv(local, "night.csv")] });
  expect(inOne.totals.starts).toBeGreaterThan(0);
  expect(replay({ ...options, days: cut })).toEqual(inOne);
});
