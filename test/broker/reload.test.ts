/** New settings under a daemon that runs, as a stranger on a real Mosquitto sees it. */
import { afterAll, afterEach, beforeAll, expect, test } from "vitest";
import type { SiteSettings } from "../../config/site-settings.ts";
import { startMosquitto } from "../support/mosquitto.ts";
import type { Mosquitto } from "../support/mosquitto.ts";
import { runDaemon } from "../support/running-daemon.ts";
import type { RunningDaemon } from "../support/running-daemon.ts";
import { testActuators, testBroker, testLoad, testSignal, testSite } from "../support/site.ts";
import { commandsOf, createStranger } from "../support/stranger.ts";
import type { Stranger } from "../support/stranger.ts";
import { until } from "../support/until.ts";

const ON = { loadStages: [2, 1], panelsClosed: [true] };

let broker: Mosquitto;
let stranger: Stranger;
let running: RunningDaemon;

beforeAll(async () => {
  broker = await startMosquitto();
});
afterAll(async () => {
  await broker.stop();
});
afterEach(async () => {
  await running.daemon.stop();
  await stranger.end();
});

function siteWith(over: Partial<SiteSettings> = {}): SiteSettings {
  return testSite({ broker: testBroker(broker.url), ...over });
}

/** A daemon with everything on, and nothing heard yet. */
async function allOn(): Promise<void> {
  stranger = await createStranger(broker.url);
  await stranger.settle();
  running = await runDaemon(siteWith());
  running.core.want(ON);
  running.tick();
  await stranger.waitFor(({ topic, payload }) => topic === "shed/pump/set" && payload === "1");
  stranger.seen.length = 0;
}

async function ticks(count: number): Promise<void> {
  for (let at = 0; at < count; at += 1) running.tick();
  await stranger.settle();
}

test("settings that change no wiring switch nothing", async () => {
  await allOn();
  const control = siteWith().control;
  const loads = control.loads.map((load) => ({ ...load, startAboveFraction: 0.1 }));
  expect(running.daemon.refit(siteWith({ control: { ...control, loads } }))).toEqual([]);
  await ticks(5);
  expect(commandsOf(stranger.seen)).toEqual([]);
  expect(running.daemon.state().isBrokerConnected).toBe(true);
});

test("a load that is taken out goes off, the others stay on, and its topic is emptied", async () => {
  await allOn();
  const { control } = siteWith();
  const [heater, , panel] = testActuators();
  running.daemon.refit(
    siteWith({
      control: { ...control, loads: control.loads.slice(0, 1) },
      actuators: [heater!, panel!],
    }),
  );
  running.core.want({ loadStages: [2], panelsClosed: [true] });
  await stranger.waitFor(({ topic }) => topic === "shed/pump/set");
  await stranger.waitFor(({ topic, payload }) => topic.endsWith("spring-pump") && payload === "");
  await ticks(3);
  expect(commandsOf(stranger.seen)).toEqual(["shed/pump/set 0"]);
  const emptied = stranger.seen.filter(
    ({ topic, payload }) => topic === "bywash/malga/load/spring-pump" && payload === "",
  );
  expect(emptied).toHaveLength(1);
});

test("a new signal is subscribed to, and known values are not forgotten", async () => {
  await allOn();
  await stranger.say("shed/battery", '{"soc":97,"v":54.2,"i":10}');
  await running.tickUntil(({ battery }) => battery.socFraction.quality === "fresh");
  const temperature = testSignal("battery.temperature", { topic: "shed/new/t" });
  running.daemon.refit(siteWith({ telemetry: [...siteWith().telemetry, temperature] }));
  running.tick();
  expect(running.core.observations.at(-1)?.battery.voltageV).toMatchObject({
    value: 54.2,
    quality: "fresh",
  });
  await until(() => {
    void stranger.say("shed/new/t", "21.5");
    running.tick();
    return running.core.observations.at(-1)?.battery.temperatureC.value === 21.5;
  });
  expect(commandsOf(stranger.seen)).toEqual([]);
});

test("a second panel gets a line of its own, and what runs does not notice", async () => {
  await allOn();
  const { control } = siteWith();
  const second = { ...testActuators()[2]!, index: 1, id: "barn", topic: "barn/contactor/set" };
  const load = testLoad({ id: "barn-heater", label: "Barn heater", panelIndex: 1, priority: 3 });
  const heater = { ...testActuators()[1]!, index: 2, id: "barn-heater", topic: "barn/heater/set" };
  running.daemon.refit(
    siteWith({
      control: {
        ...control,
        panels: [...control.panels, { ...control.panels[0]!, id: "barn" }],
        loads: [...control.loads, load],
      },
      actuators: [...testActuators(), heater, second],
    }),
  );
  running.core.want({ loadStages: [2, 1, 0], panelsClosed: [true, false] });
  await stranger.waitFor(({ topic }) => topic === "barn/contactor/set");
  await stranger.waitFor(({ topic }) => topic === "barn/heater/set");
  await ticks(3);
  const told = [...new Set(commandsOf(stranger.seen))].sort();
  expect(told).toEqual(["barn/contactor/set 0", "barn/heater/set 0"]);
  running.core.want({ loadStages: [2, 1, 1], panelsClosed: [true, true] });
  running.tick();
  await stranger.waitFor(({ topic, payload }) => topic === "barn/contactor/set" && payload === "1");
  await stranger.waitFor(({ topic, payload }) => topic === "barn/heater/set" && payload === "1");
});

test("a contactor on another topic opens where it was, and all begins with OFF", async () => {
  await allOn();
  const actuators = testActuators().map((one) =>
    one.kind === "panel" ? { ...one, topic: "shed/main/set" } : one,
  );
  running.daemon.refit(siteWith({ actuators }));
  running.core.want({ loadStages: [0, 0], panelsClosed: [false] });
  await stranger.waitFor(({ topic }) => topic === "shed/main/set");
  // Another connection's word, which may come before or after that one.
  await stranger.waitFor(({ topic }) => topic === "shed/contactor/set");
  const told = commandsOf(stranger.seen);
  expect(told).toContain("shed/contactor/set 0");
  expect(told.filter((text) => text.endsWith(" 1") || text.includes('"stage":2'))).toEqual([]);
  running.core.want(ON);
  running.tick();
  await stranger.waitFor(({ topic, payload }) => topic === "shed/main/set" && payload === "1");
});
