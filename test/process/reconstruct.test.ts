/**
 * Worked trust: days through the daemon over MQTT, whose history sees throttled power alone;
 * exported, replayed with other settings, and held to what the shed would really have done.
 */
import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, expect, test } from "vitest";
import { parseSite } from "../../config/load.ts";
import { createLocalCalendar } from "../../config/local-calendar.ts";
import { exportedDays } from "../../service/cli/export-days.ts";
import { createRigRun } from "../../service/cli/rig-run.ts";
import { step } from "../../service/control/step.ts";
import type { Step } from "../../service/control/step.ts";
import { recordedDays } from "../../service/history/reading/days.ts";
import { openReader } from "../../service/history/reading/reader.ts";
import { createScribe, DATABASE_FILE } from "../../service/history/scribe.ts";
import { createDayOutput } from "../../simulator/days/day-output.ts";
import type { OutcomeReport } from "../../simulator/outcome.ts";
import { outcomeSchema } from "../../simulator/outcome-schema.ts";
import { replay } from "../../simulator/replay.ts";
import { syntheticDay } from "../../simulator/weather/synthetic-day.ts";
import { bywash } from "../support/command-line.ts";
import { silentLog } from "../support/log.ts";
import { testHistory } from "../support/site.ts";

const MALGA = "config/examples/malga.yaml";
const TICK_S = 30;
const START = 0.8;

function siteWith(...overrides: readonly string[]) {
  const own = [`site.tick=${String(TICK_S)} s`, "broker.embedded.port=0", "web.port=0"];
  return parseSite({
    text: readFileSync(MALGA, "utf8"),
    fileName: MALGA,
    overrides: [...own, ...overrides],
  });
}

const site = siteWith();
const KINDS = ["clear", "broken"] as const;
const days = KINDS.map((kind, i) =>
  syntheticDay({ site, localDate: `2025-06-${String(12 + i)}`, seed: 31 + i, kind }),
);

/** A step that tells the scribe of its ticks. */
function recordedStep(receive: ReturnType<typeof createScribe>["receive"]): Step {
  return (memoryBefore, observation, settings) => {
    const result = step(memoryBefore, observation, settings);
    receive({ kind: "tick", tick: { observation, ...result }, memoryBefore });
    return result;
  };
}

async function recordDays(folder: string): Promise<void> {
  const history = { history: testHistory(folder), control: site.control, codeVersion: "1.2.3" };
  const { receive } = createScribe({ ...history, wallMs: 0 }, (message) => {
    if (message.kind === "said") throw new Error(message.message);
  });
  await createRigRun({
    site,
    days,
    startFraction: START,
    speed: Infinity,
    forMs: Infinity,
    step: recordedStep(receive),
    log: silentLog,
    version: "test",
    mayBridge: false,
    elsewhere: null,
    serviceElsewhere: null,
    hasWeb: false,
    listener: { onReady: () => Promise.resolve(), onDecision: () => undefined },
  }).run();
  receive({ kind: "close", ticket: 1 });
}

async function exportTo(path: string, folder: string): Promise<void> {
  const reader = openReader(join(folder, DATABASE_FILE));
  const output = await createDayOutput({ path, isSplit: false, mayReplace: false });
  const options = { site, calendar: createLocalCalendar(site.timeZone), withPotential: false };
  const which = recordedDays(reader, { fromDay: 0, toDay: 1e6, limit: 10 }).reverse();
  for (const piece of exportedDays(reader, which, options)) output.write(piece);
  reader.close();
  output.commit();
}

let folder = "";
let dayFile = "";
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), "bywash-reconstruct-"));
  dayFile = join(folder, "recorded.csv");
  await recordDays(folder);
  await exportTo(dayFile, folder);
}, 240_000);
afterAll(() => rmSync(folder, { recursive: true }));

/** What the shed would have done, known from the weather that nobody recorded. */
function truthOf(overrides: readonly string[]): OutcomeReport {
  const other = siteWith(...overrides);
  return replay({
    site: other,
    days,
    step,
    calendar: createLocalCalendar(other.timeZone),
    stepS: 60,
    startFraction: START,
    mayBridge: false,
    plant: null,
    onDecision: null,
  });
}

const OTHERS = [
  { name: "the curve 10 % lower", within: 0.04, set: ["ruleCurve.at=84 %"] },
  {
    name: "ten times the tank, and the pump for hours",
    // Nearly all that there is can be used: every error of the potential shows.
    within: 0.05,
    set: [
      "ruleCurve.at=86 %",
      "loads.water-heater.tank.volume=2000 L",
      "loads.spring-pump.quota.atMost=8 h",
    ],
  },
];

test.each(OTHERS)(
  "$name: diverted as the shed would have, within the range",
  async ({ set, within }) => {
    const flags = set.flatMap((one) => ["--set", one]);
    const typed = await bywash(["replay", dayFile, "--config", MALGA, ...flags, "--json"]);
    expect(typed.stderr).toBe("");
    const report = outcomeSchema.parse(JSON.parse(typed.stdout));
    const truth = truthOf(set);
    const { totals, range } = report;
    expect(truth.totals.divertedWh).toBeGreaterThan(15_000);
    expect(Math.abs(totals.divertedWh / truth.totals.divertedWh - 1)).toBeLessThan(within);
    for (const key of ["potentialWh", "curtailedWh", "divertedWh", "usefulDivertedWh"] as const) {
      expect(range?.low[key]).toBeLessThanOrEqual(truth.totals[key]);
      expect(range?.high[key]).toBeGreaterThanOrEqual(truth.totals[key]);
    }
    expect(totals.reconstructedFraction).toBeGreaterThan(0.2);
  },
  90_000,
);

test("in words: how much was inferred, and within which range the result lies", async () => {
  const { code, stdout } = await bywash(["replay", dayFile, "--config", MALGA]);
  expect(code).toBe(0);
  expect(stdout).toMatch(/\d\d % of what is on offer here was\s+inferred/u);
  expect(stdout).toMatch(/diverted \d+\.\d kWh to \d+\.\d kWh, useful/u);
  expect(Math.max(...stdout.split("\n").map((line) => line.length))).toBeLessThanOrEqual(80);
}, 60_000);

test("two settings are compared on it, too", async () => {
  const typed = await bywash(["replay", dayFile, "--config", MALGA, "--against", MALGA, "--json"]);
  expect(typed).toMatchObject({ code: 0, stderr: "" });
}, 90_000);
