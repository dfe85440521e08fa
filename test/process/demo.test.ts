/**
 * The demo as a stranger sees it: somebody with an MQTT client and the settings file, who reckons
 * from the telemetry alone whether each command was right. Nothing of the core is asked.
 */
import { readFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import mqtt from "mqtt";
import { describe, expect, it } from "vitest";
import { parse } from "yaml";
import { parseSite } from "../../config/load.ts";
import { createLocalCalendar } from "../../config/local-calendar.ts";
import type { SiteSettings } from "../../config/site-settings.ts";
import { createRigRun } from "../../service/cli/rig-run.ts";
import type { Step } from "../../service/control/step.ts";
import { step } from "../../service/control/step.ts";
import type { DaySeries } from "../../simulator/days/day-file.ts";
import { readDayCsv } from "../../simulator/days/read-csv.ts";
import type { OutcomeReport } from "../../simulator/outcome.ts";
import { replay } from "../../simulator/replay.ts";
import { syntheticDay } from "../../simulator/weather/synthetic-day.ts";
import { silentLog } from "../support/log.ts";

const MALGA = "config/examples/malga.yaml";
const SAMPLE = "simulator/samples/measured-broken-cloud.csv";
const TICK_S = 10;
const START_FRACTION = 0.8;
const DAY_MS = 86_400_000;

interface Heard {
  readonly topic: string;
  readonly payload: string;
}

interface Scene {
  readonly overrides?: readonly string[];
  readonly step?: Step;
  readonly measured?: boolean;
}

function siteOf(overrides: readonly string[]): SiteSettings {
  return parseSite({
    text: readFileSync(MALGA, "utf8"),
    fileName: MALGA,
    overrides: [
      `site.tick=${String(TICK_S)} s`,
      "broker.embedded.port=0",
      "web.port=0",
      `web.tokenFile=${join(tmpdir(), `bywash-demo-test-${String(process.pid)}`)}`,
      ...overrides,
    ],
  });
}

function measuredDay(): DaySeries {
  return readDayCsv(readFileSync(SAMPLE, "utf8"), SAMPLE);
}

/** A whole day through the real broker; what a stranger heard, and the demo's own outcome. */
async function runDay(
  scene: Scene = {},
): Promise<{ readonly heard: Heard[]; readonly outcome: OutcomeReport }> {
  const site = siteOf(scene.overrides ?? []);
  const made = { site, localDate: "2025-06-12", seed: 1, kind: "broken" as const };
  const day = scene.measured === true ? measuredDay() : syntheticDay(made);
  const heard: Heard[] = [];
  let leave = (): Promise<void> => Promise.resolve();
  const demo = createRigRun({
    site,
    days: [day],
    startFraction: START_FRACTION,
    speed: 100_000,
    forMs: DAY_MS,
    step: scene.step ?? step,
    log: silentLog,
    version: "test",
    mayBridge: false,
    elsewhere: null,
    hasWeb: true,
    serviceElsewhere: null,
    listener: {
      async onReady({ broker }) {
        const stranger = await mqtt.connectAsync(broker, { clientId: "stranger" });
        stranger.on("message", (topic, payload) => heard.push({ topic, payload: String(payload) }));
        await stranger.subscribeAsync("shed/#", { qos: 1 });
        leave = () => stranger.endAsync();
      },
      onDecision: () => undefined,
    },
  });
  const outcome = await demo.run();
  await leave();
  return { heard, outcome };
}

interface YamlLoad {
  readonly id: string;
  readonly start: { readonly aboveRuleCurve: string; readonly for: string };
  readonly stop: { readonly belowRuleCurve: string; readonly for: string };
  readonly minRun: string;
  readonly command: { readonly topic: string; readonly off?: string };
  readonly tank?: { readonly surplus: string };
  readonly quota?: { readonly atMost: string };
}

interface YamlSite {
  readonly ruleCurve: { readonly at: string };
  readonly loads: readonly YamlLoad[];
}

/** "2 %" → 2, "2 min" → 120. */
function written(text: string): number {
  const value = Number.parseFloat(text);
  return text.endsWith("min") ? value * 60 : value;
}

/** What the stranger knows of one load while listening. */
interface Watch {
  readonly load: YamlLoad;
  stage: number;
  ranS: number;
  runS: number;
}

/** Goes through what was heard and names every command that does not agree with the settings. */
function disagreements(heard: readonly Heard[]): {
  wrong: string[];
  starts: number;
  stops: number;
} {
  const settings = parse(readFileSync(MALGA, "utf8")) as YamlSite;
  const curve = written(settings.ruleCurve.at);
  const watches: Watch[] = settings.loads.map((load) => ({ load, stage: 0, ranS: 0, runS: 0 }));
  const socs: number[] = [];
  const powers: number[] = [];
  let tankC = 0;
  const wrong: string[] = [];
  let starts = 0;
  let stops = 0;
  /** Rounds of telemetry that a time covers; one is left out for the round that is under way. */
  const rounds = (list: readonly number[], forText: string): readonly number[] =>
    list.slice(-Math.max(1, written(forText) / TICK_S - 1));
  for (const { topic, payload } of heard) {
    if (topic === "shed/battery") {
      const battery = JSON.parse(payload) as { soc: number; v: number; i: number };
      socs.push(battery.soc);
      powers.push(battery.v * battery.i);
      for (const watch of watches) {
        if (watch.stage > 0) {
          watch.ranS += TICK_S;
          watch.runS += TICK_S;
        }
      }
    }
    if (topic === "shed/tank/c") tankC = Number(payload);
    const watch = watches.find(({ load }) => load.command.topic === topic);
    if (watch === undefined) continue;
    const { load } = watch;
    const stage = stageOf(payload);
    const soc = socs.at(-1) ?? 0;
    if (stage > 0 && watch.stage === 0) {
      starts += 1;
      watch.runS = 0;
      const mark = curve + written(load.start.aboveRuleCurve);
      const isAbove = rounds(socs, load.start.for).every((past) => past >= mark - 0.05);
      if (!isAbove) wrong.push(`${load.id} ON at ${String(soc)} %, mark ${String(mark)} %`);
      if (load.tank !== undefined && tankC >= written(load.tank.surplus)) {
        wrong.push(`${load.id} ON with the tank at ${String(tankC)} °C`);
      }
    }
    if (stage === 0 && watch.stage > 0) {
      stops += 1;
      const mark = curve - written(load.stop.belowRuleCurve);
      const isBelow = rounds(socs, load.stop.for).every((past) => past <= mark + 0.05);
      const isStarved = rounds(powers, load.stop.for).every((power) => power < 0);
      const isWarm = load.tank !== undefined && tankC >= written(load.tank.surplus) - 0.1;
      const isDone =
        load.quota !== undefined && watch.ranS >= written(load.quota.atMost) - 2 * TICK_S;
      const isRun = watch.runS >= written(load.minRun) - TICK_S;
      if (!isRun || !(isBelow || isStarved || isWarm || isDone)) {
        wrong.push(`${load.id} OFF at ${String(soc)} % after ${String(watch.runS)} s`);
      }
    }
    watch.stage = stage;
  }
  return { wrong, starts, stops };
}

/** Commands of the example: `{"stage": 2}`, "on"/"off", "1"/"0". */
function stageOf(payload: string): number {
  const staged = /"stage": (\d)/u.exec(payload);
  if (staged?.[1] !== undefined) return Number(staged[1]);
  return payload === "on" || payload === "1" ? 1 : 0;
}

function commandsIn(heard: readonly Heard[]): string[] {
  return heard.filter(({ topic }) => topic.endsWith("/set")).map((one) => one.topic + one.payload);
}

/** The day of the example as it is, which two of the tests look at: the same each time. */
let asItIs: ReturnType<typeof runDay> | null = null;
const dayAsItIs = (): ReturnType<typeof runDay> => (asItIs ??= runDay());

describe("the demo, heard by a stranger on its broker", () => {
  it("switches loads on and off, each time in agreement with the settings", async () => {
    const { heard, outcome } = await dayAsItIs();
    const { wrong, starts, stops } = disagreements(heard);
    expect(wrong).toEqual([]);
    expect(starts).toBeGreaterThanOrEqual(3);
    expect(stops).toBe(starts);
    expect(starts).toBe(outcome.totals.starts);
    expect(outcome.totals.divertedWh).toBeGreaterThan(5_000);
    expect(outcome.totals.reserveDrawnWh).toBe(0);
  });

  it("commands something else with half the array", async () => {
    const whole = await dayAsItIs();
    const half = await runDay({ overrides: ["arrays.roof.peak=3.3 kW"] });
    expect(commandsIn(half.heard)).not.toEqual(commandsIn(whole.heard));
    expect(half.outcome.totals.divertedWh).toBeLessThan(whole.outcome.totals.divertedWh);
    expect(disagreements(half.heard).wrong).toEqual([]);
  });

  it("agrees with a replay of the same measured day within 1 % of diverted energy", async () => {
    const { outcome, heard } = await runDay({ measured: true });
    const replayed = replay({
      site: siteOf([]),
      days: [measuredDay()],
      step,
      calendar: createLocalCalendar("Europe/Rome"),
      stepS: TICK_S,
      startFraction: START_FRACTION,
      mayBridge: false,
      plant: null,
      onDecision: null,
    });
    const { divertedWh } = replayed.totals;
    expect(divertedWh).toBeGreaterThan(5_000);
    expect(Math.abs(outcome.totals.divertedWh - divertedWh)).toBeLessThan(0.01 * divertedWh);
    expect(outcome.totals.potentialWh).toBeCloseTo(replayed.totals.potentialWh, 0);
    expect(disagreements(heard).wrong).toEqual([]);
  });

  it("is found out if it does not look at the state of charge", async () => {
    const blind: Step = (memory, observation, settings) => {
      const socFraction = { value: 0.99, quality: "fresh" as const, ageMs: 0 };
      const battery = { ...observation.battery, socFraction };
      return step(memory, { ...observation, battery }, settings);
    };
    const { heard } = await runDay({ step: blind });
    expect(disagreements(heard).wrong).not.toEqual([]);
  });
});
