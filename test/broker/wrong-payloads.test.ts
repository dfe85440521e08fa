/**
 * Every odd message over a real Mosquitto to a real daemon with the real core, in a state in which
 * one wrong number would start a load at the next tick.
 */
import { afterAll, beforeAll, expect, test } from "vitest";
import type { SignalSettings, SiteSettings } from "../../config/site-settings.ts";
import { step } from "../../service/control/step.ts";
import { startMosquitto } from "../support/mosquitto.ts";
import type { Mosquitto } from "../support/mosquitto.ts";
import { runDaemon } from "../support/running-daemon.ts";
import type { RunningDaemon } from "../support/running-daemon.ts";
import { feedOf, signalOfOne } from "../support/signal.ts";
import type { SignalOfOne } from "../support/signal.ts";
import { testActuators, testBroker, testControl, testLoad, testSite } from "../support/site.ts";
import { commandsOf, createStranger } from "../support/stranger.ts";
import type { Stranger } from "../support/stranger.ts";
import { until } from "../support/until.ts";
import {
  expectedCounts,
  messageCount,
  ODD_SIGNALS,
  payloadRows,
} from "../telemetry/payload-rows.ts";
import type { PayloadRow } from "../telemetry/payload-rows.ts";

const TICK_MS = 100;
/** The odd rows, now about what the core decides upon. */
const ROLES = [
  { key: "inverter.power", ownerId: null },
  {
    key: "battery.soc",
    ownerId: null,
    decoding: { kind: "number", scale: 0.01, offset: 0 },
    min: 0,
    max: 1,
  },
  { key: "generator.running", ownerId: null },
  { key: "battery.current", ownerId: null },
  { key: "battery.voltage", ownerId: null },
] as const satisfies readonly SignalOfOne[];
/** Everything as on a sunny noon; the charge says whether loads may run. */
const noon = (soc: number, wallMs: number): readonly (readonly [string, string])[] => [
  ["odd/plain/w", "300"],
  ["odd/field", JSON.stringify({ v: soc })],
  ["odd/word", "off"],
  ["odd/stamp", JSON.stringify({ v: 1, t: wallMs })],
  ["odd/wild/a/c", JSON.stringify({ v: 54 })],
  ["shed/roof/w", "4000"],
  ["shed/tank/c", "50"],
];
/** Under the start mark, 96 %, and above the stop mark, 92 %: what is off waits. */
const WAITING_SOC = 94;
const STARTING_SOC = 98;
const STOPPING_SOC = 91;

let broker: Mosquitto;
let shed: Stranger;
let running: RunningDaemon;
let sentCount = 0;

beforeAll(async () => {
  broker = await startMosquitto();
  shed = await createStranger(broker.url, { topics: ["shed/+/set"] });
  running = await runDaemon(dangerousSite(broker.url), { step });
  await until(() => running.daemon.state().isBrokerConnected);
});
afterAll(async () => {
  await running.daemon.stop();
  await shed.end();
  await broker.stop();
});

function dangerousSite(url: string): SiteSettings {
  const odd = ODD_SIGNALS.map((signal, index): SignalSettings => {
    const role = ROLES[index];
    if (role === undefined) throw new Error("a role for each odd signal");
    return signalOfOne({ ...feedOf(signal), ...role });
  });
  const own = testSite().telemetry.filter(({ key }) =>
    ["array.{id}.power", "load.{id}.tankTemperature"].includes(key),
  );
  const atOnce = { startForMs: 0, minRestMs: 0, minRunMs: 0 };
  const tank = { surplusC: 68, hysteresisK: 4, limitC: 75, volumeL: null };
  return testSite({
    broker: testBroker(url),
    telemetry: [...odd, ...own],
    actuators: testActuators().filter(({ kind }) => kind === "load"),
    control: {
      ...testControl(),
      tickMs: TICK_MS,
      staggerMs: 0,
      panels: [],
      loads: [
        testLoad({
          id: "water-heater",
          label: "Water heater",
          stagesW: [1000, 2000],
          tank,
          ...atOnce,
        }),
        testLoad({
          id: "spring-pump",
          label: "Spring pump",
          priority: 2,
          stagesW: [750],
          ...atOnce,
        }),
      ],
    },
  });
}

async function say(topic: string, bytes: Uint8Array | string, row: Partial<PayloadRow> = {}) {
  const { qos = 1, isRetained = false, isTwice = false } = row;
  const payload = Buffer.from(bytes);
  await shed.client.publishAsync(topic, payload, { qos, retain: isRetained });
  if (isTwice) await shed.client.publishAsync(topic, payload, { qos, dup: true });
}

async function sayNoon(soc: number): Promise<void> {
  await sayAll(noon(soc, running.clock.wallMs()));
}

async function sayAll(messages: ReturnType<typeof noon>): Promise<void> {
  for (const [topic, text] of messages) await say(topic, text);
  sentCount += messages.length;
  await until(() => running.daemon.received() === sentCount);
}

/** Some minutes of it, with telemetry that never grows old. */
async function liveOn(soc: number): Promise<void> {
  for (let halfMinute = 0; halfMinute < 6; halfMinute += 1) {
    await sayNoon(soc);
    running.clock.advance(30_000);
  }
  await sayNoon(soc);
  running.tick();
}

/** Commands that switch a load on, since the last look. */
async function starts(): Promise<readonly string[]> {
  await shed.settle();
  const commands = commandsOf(shed.seen.splice(0));
  return commands.filter((command) => !/set (?:0|\{"stage":0\})$/u.test(command));
}

test("loads start at once when the charge allows it, and stop when it does not", async () => {
  // The core counts the charge, too, and must not know better than the monitor later.
  await liveOn(WAITING_SOC);
  await liveOn(STARTING_SOC);
  expect((await starts()).length).toBeGreaterThan(0);
  await liveOn(STOPPING_SOC);
  await liveOn(WAITING_SOC);
  await starts();
  running.tick();
  expect(running.daemon.state().loads.map(({ stage }) => stage)).toEqual([0, 0]);
  expect(await starts()).toEqual([]);
});

test("no odd message starts one, none is lost, and each is counted for its reason", async () => {
  const rows = payloadRows(running.clock.wallMs());
  const heard = rows.filter(
    (row) => !("ignored" in row.becomes) || row.becomes.ignored !== "unmapped-topic",
  );
  const before = running.daemon.state().counters.ignoredCounts;
  const began: string[] = [];
  for (const row of rows) {
    // One row must not make the next harmless.
    await sayAll(noon(WAITING_SOC, 0).filter(([topic]) => topic !== "odd/stamp"));
    await say(row.topic, row.bytes, row);
    if (heard.includes(row)) sentCount += row.isTwice ? 2 : 1;
    await until(() => running.daemon.received() === sentCount);
    running.tick();
    const { loads } = running.daemon.state();
    if (loads.some(({ stage }) => stage > 0)) began.push(row.name);
  }
  expect(began).toEqual([]);
  expect(await starts()).toEqual([]);
  const after = running.daemon.state().counters.ignoredCounts;
  const risen = Object.entries(after)
    .map(([reason, count]) => [reason, count - (before[reason] ?? 0)] as const)
    .filter(([, count]) => count > 0);
  expect(Object.fromEntries(risen)).toEqual(expectedCounts(heard));
  expect(messageCount(heard)).toBeGreaterThanOrEqual(100);
});

test("the daemon lives on: with good telemetry loads start again", async () => {
  const counts = running.daemon.state().counters;
  expect(counts.brokerLossCount).toBe(0);
  await liveOn(STARTING_SOC);
  expect((await starts()).length).toBeGreaterThan(0);
});
