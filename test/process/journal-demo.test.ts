/**
 * A day of the real daemon, with a simulated shed at the other end of a real broker: every decision
 * comes out of its journal again.
 */
import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { parseSite } from "../../config/load.ts";
import { createLocalCalendar } from "../../config/local-calendar.ts";
import { exportedDays } from "../../service/cli/export-days.ts";
import { createRigRun } from "../../service/cli/rig-run.ts";
import { step } from "../../service/control/step.ts";
import type { Step } from "../../service/control/step.ts";
import { readSegment } from "../../service/history/journal/read-journal.ts";
import { reproduce } from "../../service/cli/reproduce.ts";
import { listSegments } from "../../service/history/journal/segments.ts";
import { recordedDays } from "../../service/history/reading/days.ts";
import { openReader } from "../../service/history/reading/reader.ts";
import { createScribe, DATABASE_FILE, JOURNAL_FOLDER } from "../../service/history/scribe.ts";
import type { DaySeries } from "../../simulator/days/day-file.ts";
import { createDayOutput } from "../../simulator/days/day-output.ts";
import { openDayPieces } from "../../simulator/days/open-day-file.ts";
import { dayFeed } from "../../simulator/feed.ts";
import type { OutcomeReport } from "../../simulator/outcome.ts";
import { plantSettings } from "../../simulator/plant/plant-settings.ts";
import { syntheticDay } from "../../simulator/weather/synthetic-day.ts";
import { scratchFolders } from "../history/scratch.ts";
import { silentLog } from "../support/log.ts";
import { testHistory } from "../support/site.ts";

const MALGA = "config/examples/malga.yaml";
const TICK_S = 10;
const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;
const MB = 1_000_000;
const newFolder = scratchFolders();

const site = parseSite({
  text: readFileSync(MALGA, "utf8"),
  fileName: MALGA,
  overrides: [
    `site.tick=${String(TICK_S)} s`,
    "broker.embedded.port=0",
    "web.port=0",
    `web.tokenFile=${join(tmpdir(), `bywash-journal-test-${String(process.pid)}`)}`,
  ],
});

interface Recorded {
  readonly folder: string;
  readonly tickCount: number;
  /** What the simulated shed itself measured. */
  readonly truth: OutcomeReport;
}

/** Everything that the daemon gives its core, and gets from it, goes to the scribe. */
async function recordDay(folder: string): Promise<Recorded> {
  let tickCount = 0;
  const { receive } = createScribe(
    { history: testHistory(folder), control: site.control, codeVersion: "1.2.3", wallMs: 0 },
    (message) => {
      if (message.kind === "said") throw new Error(message.message);
    },
  );
  const recorded: Step = (memoryBefore, observation, settings) => {
    const result = step(memoryBefore, observation, settings);
    tickCount += 1;
    receive({ kind: "tick", tick: { observation, ...result }, memoryBefore });
    return result;
  };
  const day = syntheticDay({ site, localDate: "2025-06-12", seed: 1, kind: "broken" });
  const demo = createRigRun({
    site,
    days: [day],
    startFraction: 0.8,
    speed: 100_000,
    forMs: DAY_MS,
    step: recorded,
    log: silentLog,
    version: "test",
    mayBridge: false,
    elsewhere: null,
    hasWeb: true,
    serviceElsewhere: null,
    listener: { onReady: () => Promise.resolve(), onDecision: () => undefined },
  });
  const truth = await demo.run();
  receive({ kind: "close", ticket: 1 });
  return { folder, tickCount, truth };
}

let recorded: Promise<Recorded>;
beforeAll(async () => {
  recorded = recordDay(mkdtempSync(join(tmpdir(), "bywash-day-")));
  await recorded;
});
afterAll(async () => rmSync((await recorded).folder, { recursive: true }));

it("decides a whole day of a running daemon again, to the last figure", async () => {
  const { folder, tickCount } = await recorded;
  const segments = listSegments(join(folder, JOURNAL_FOLDER));
  const entries = segments.flatMap(({ path }) => [...readSegment(path)]);
  const result = reproduce(entries, step);
  expect(result).toMatchObject({ tickCount, difference: null, damages: [], gaps: [] });
  // A day of 8640 regular ticks, and some that an interlock has asked for.
  expect(tickCount).toBeGreaterThanOrEqual(DAY_MS / TICK_S / 1000);
  expect(result.runningCount).toBeGreaterThan(500);
  const bytes = segments.reduce((sum, { path }) => sum + readFileSync(path).length, 0);
  // A day at the usual pace of 2 s is to stay below 5 MB.
  expect(bytes).toBeLessThan((5 * MB * 2) / TICK_S);
});

/** Energy of a column whose rows are minutes. [Wh] */
function energyWh(series: DaySeries, column: string): number {
  const values = series.columns.get(column) ?? new Float64Array();
  return values.reduce((sum, powerW) => sum + (Number.isNaN(powerW) ? 0 : powerW / 60), 0);
}

describe.each(["csv", "parquet"])("the day as %s out of its history", (form) => {
  it("has the energies that the shed has measured", async () => {
    const { folder, truth } = await recorded;
    const path = join(newFolder(), `day.${form}`);
    const reader = openReader(join(folder, DATABASE_FILE));
    const output = await createDayOutput({ path, isSplit: false, mayReplace: false });
    const which = { fromDay: 0, toDay: 1e6, limit: 10 };
    const options = { site, calendar: createLocalCalendar(site.timeZone), withPotential: false };
    for (const piece of exportedDays(reader, recordedDays(reader, which), options)) {
      output.write(piece);
    }
    reader.close();
    expect(output.commit()).toEqual([path]);
    const pieces: DaySeries[] = [];
    for await (const piece of openDayPieces(path)) pieces.push(piece);
    const [series] = pieces;
    if (series === undefined) throw new Error("nothing was written");
    expect(pieces.length).toBe(1);
    expect(series.timesMs.length).toBe(1440);
    expect([...series.columns.keys()]).toEqual([
      "pv_power_w",
      "curtailed",
      "battery_soc_percent",
      "battery_voltage_v",
      "battery_current_a",
      "battery_temperature_c",
      "charge_stage",
      "total_load_w",
      "load_spring-pump_w",
      "load_water-heater_w",
      "tank_water-heater_c",
      "load_whey-cooler_w",
    ]);
    const { totals, loads } = truth;
    // Minute means of readings every 10 s, against a shed that is reckoned in finer steps.
    const near = (foundWh: number, wantedWh: number): void => {
      expect(wantedWh).toBeGreaterThan(500);
      expect(Math.abs(foundWh / wantedWh - 1)).toBeLessThan(0.02);
    };
    near(energyWh(series, "pv_power_w"), totals.potentialWh - totals.curtailedWh);
    near(energyWh(series, "total_load_w"), totals.baseLoadWh + totals.divertedWh);
    for (const id of ["water-heater", "spring-pump"]) {
      near(energyWh(series, `load_${id}_w`), loads[id]?.energyWh ?? NaN);
    }
    // It has no meter: its own thermostat has it draw less than it was allotted.
    const coolerWh = loads["whey-cooler"]?.energyWh ?? NaN;
    expect(energyWh(series, "load_whey-cooler_w")).toBeGreaterThan(coolerWh);
    const soc = series.columns.get("battery_soc_percent") ?? [];
    expect(Math.min(...soc)).toBeCloseTo(totals.minSocPercent, 0);
    const stages = new Set(series.columns.get("charge_stage"));
    expect([...stages].every((stage) => Number.isInteger(stage))).toBe(true);
    expect(stages.size).toBeGreaterThan(1);
    // It does not say what was thrown away, and is not taken for a day that does.
    const feed = () =>
      dayFeed(series, { plant: plantSettings(site), sitePlace: site.control, mayBridge: false });
    expect(energyWh(series, "curtailed")).toBeGreaterThan(0);
    expect(feed).toThrow(/pv_potential_w/u);
  });
});
