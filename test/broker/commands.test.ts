/** What really goes over a Mosquitto, as a stranger who listens to everything sees it. */
import { afterAll, afterEach, beforeAll, describe, expect, test } from "vitest";
import { layCable } from "../support/cable.ts";
import type { Cable } from "../support/cable.ts";
import { EXCEEDED, startMosquitto } from "../support/mosquitto.ts";
import type { Mosquitto } from "../support/mosquitto.ts";
import { runDaemon } from "../support/running-daemon.ts";
import type { RunningDaemon } from "../support/running-daemon.ts";
import { testActuators, testBroker, testSite } from "../support/site.ts";
import { commandsOf, createStranger } from "../support/stranger.ts";
import type { Stranger } from "../support/stranger.ts";
import { until } from "../support/until.ts";

const ALL_OFF = ['shed/heater/set {"stage":0}', "shed/pump/set 0", "shed/contactor/set 0"];
const ALL_ON = { loadStages: [2, 1], panelsClosed: [true] };
const IN_ORDER = ["shed/contactor/set 1", 'shed/heater/set {"stage":2}', "shed/pump/set 1"];

let broker: Mosquitto;
let stranger: Stranger;
const open: { end?: () => Promise<void>; close?: () => Promise<void> }[] = [];
const running: RunningDaemon[] = [];

beforeAll(async () => {
  broker = await startMosquitto();
});
afterAll(async () => {
  await broker.stop();
});
afterEach(async () => {
  for (const { daemon } of running.splice(0)) await daemon.stop();
  for (const one of open.splice(0)) await (one.end ?? one.close)?.();
});

async function listen(): Promise<void> {
  stranger = await createStranger(broker.url);
  // What earlier tests have left on the broker is none of this test's business.
  await stranger.settle();
  stranger.seen.length = 0;
  open.push(stranger);
}

async function run(
  url: string,
  overrides: Parameters<typeof runDaemon>[1] = {},
  protocolVersion: 4 | 5 = 5,
): Promise<RunningDaemon> {
  const started = await runDaemon(
    testSite({ broker: testBroker(url, protocolVersion) }),
    overrides,
  );
  running.push(started);
  return started;
}

async function cable(): Promise<Cable> {
  const laid = await layCable(broker.port);
  open.push(laid);
  return laid;
}

describe.each([5, 4] as const)("protocol level %d", (protocolVersion) => {
  test("OFF first; every command QoS 1, never retained; ON expires within the hold", async () => {
    await listen();
    const { core, tick } = await run(broker.url, {}, protocolVersion);
    core.want(ALL_ON);
    tick();
    await stranger.waitFor(({ topic, payload }) => topic === "shed/pump/set" && payload === "1");
    expect(commandsOf(stranger.seen)).toEqual([...ALL_OFF, ...IN_ORDER]);
    for (const command of stranger.seen.filter(({ topic }) => topic.endsWith("/set"))) {
      expect(command).toMatchObject({ qos: 1, isRetained: false });
      const isOn = IN_ORDER.includes(`${command.topic} ${command.payload}`);
      if (protocolVersion === 5 && isOn) {
        expect(command.messageExpiryS).toBeLessThanOrEqual(90);
        expect(command.messageExpiryS).toBeGreaterThan(0);
      } else expect(command.messageExpiryS).toBeNull();
    }
  });
});

test("stopping turns all off, says so, and leaves no will", async () => {
  await listen();
  const { core, tick, daemon } = await run(broker.url);
  core.want(ALL_ON);
  tick();
  await stranger.waitFor(({ topic, payload }) => topic === "shed/pump/set" && payload === "1");
  stranger.seen.length = 0;
  await daemon.stop();
  await stranger.waitFor(({ payload }) => payload.includes("offline"));
  await stranger.settle();
  expect(commandsOf(stranger.seen)).toEqual(ALL_OFF);
  const statuses = stranger.seen.filter(({ topic }) => topic === "bywash/malga/status");
  expect(statuses.map(({ payload }) => payload)).toEqual([
    '{"status":"offline","mode":"active","isTimeSimulated":false}',
  ]);
  expect(statuses[0]?.isRetained).toBe(true);
});

test("a core that throws ends with everything off and the process told to end", async () => {
  await listen();
  let isBroken = false;
  const told = new Promise<unknown>((resolve) => {
    void run(broker.url, { onFatal: resolve }).then(({ core, tick, daemon }) => {
      core.want(ALL_ON);
      tick();
      daemon.onDecision(() => {
        isBroken = true;
        throw new Error("broken on purpose");
      });
      tick();
    });
  });
  await expect(told).resolves.toMatchObject({ message: "broken on purpose" });
  expect(isBroken).toBe(true);
  await stranger.waitFor(({ payload }) => payload.includes("offline"));
  await stranger.settle();
  expect(commandsOf(stranger.seen)).toEqual([...ALL_OFF, ...IN_ORDER, ...ALL_OFF]);
});

describe("a break", () => {
  test("OFF comes first after it, and no ON from before it", async () => {
    await listen();
    const link = await cable();
    const { core, tick, tickUntil } = await run(link.url);
    core.want(ALL_ON);
    tick();
    await stranger.waitFor(({ topic, payload }) => topic === "shed/pump/set" && payload === "1");
    stranger.seen.length = 0;
    link.cut();
    // The will opens the contactor while we are away.
    await stranger.waitFor(({ topic }) => topic === "shed/contactor/set");
    expect(commandsOf(stranger.seen)).toEqual(["shed/contactor/set 0"]);
    await tickUntil(({ isBrokerConnected }) => !isBrokerConnected);
    core.want({ loadStages: [0, 0], panelsClosed: [false] });
    stranger.seen.length = 0;
    link.mend();
    await tickUntil(({ isBrokerConnected }) => isBrokerConnected);
    await until(() => commandsOf(stranger.seen).length >= ALL_OFF.length);
    await stranger.settle();
    const commands = commandsOf(stranger.seen);
    expect(commands.slice(0, 3)).toEqual(ALL_OFF);
    expect(commands.filter((command) => !ALL_OFF.includes(command))).toEqual([]);
  });

  test("an ON on a frozen link is never delivered when it thaws", async () => {
    await listen();
    const link = await cable();
    const { core, tick, tickUntil } = await run(link.url);
    await stranger.waitFor(({ topic }) => topic === "shed/contactor/set");
    stranger.seen.length = 0;
    link.freeze();
    core.want(ALL_ON);
    tick();
    core.want({ loadStages: [0, 0], panelsClosed: [false] });
    link.mend();
    await tickUntil(({ isBrokerConnected }) => !isBrokerConnected);
    await tickUntil(({ isBrokerConnected }) => isBrokerConnected);
    await until(() => commandsOf(stranger.seen).length >= ALL_OFF.length);
    await stranger.settle();
    expect(commandsOf(stranger.seen).filter((command) => !ALL_OFF.includes(command))).toEqual([]);
  });

  test("even one shorter than a tick reaches the core", async () => {
    await listen();
    const link = await cable();
    const { core, daemon, tick } = await run(link.url);
    tick();
    expect(core.observations.at(-1)?.isBrokerConnected).toBe(true);
    link.cut();
    link.mend();
    await until(() => {
      const { isBrokerConnected, counters } = daemon.state();
      return isBrokerConnected && counters.brokerLossCount === 2;
    });
    tick();
    const during = core.observations.slice(1).map(({ isBrokerConnected }) => isBrokerConnected);
    expect(during).toContain(false);
  });

  test("a restart of the broker itself is survived", async () => {
    const own = await startMosquitto();
    const link = await layCable(own.port);
    open.push(link);
    const { core, tick, tickUntil, daemon } = await run(link.url);
    core.want(ALL_ON);
    tick();
    link.cut();
    await own.stop();
    await tickUntil(({ isBrokerConnected }) => !isBrokerConnected);
    core.want({ loadStages: [0, 0], panelsClosed: [false] });
    const again = await startMosquitto(own.port);
    const witness = await createStranger(again.url);
    link.mend();
    await tickUntil(({ isBrokerConnected }) => isBrokerConnected);
    // Said once and not kept: the broker must have taken up the subscription.
    await until(() => daemon.isListening());
    await witness.say("shed/battery", '{"soc":95,"v":54,"i":2}');
    await tickUntil(({ battery }) => battery.socFraction.quality === "fresh");
    await until(() => commandsOf(witness.seen).length >= ALL_OFF.length);
    const commands = commandsOf(witness.seen);
    expect(commands.slice(0, 3)).toEqual(ALL_OFF);
    expect(commands.filter((command) => !ALL_OFF.includes(command))).toEqual([]);
    await daemon.stop();
    await witness.end();
    await again.stop();
  });
});

/**
 * MQTT 5.0 (OASIS Standard), 3.1.2.10: the server closes a silent connection after one and a half
 * times the keep-alive, and then publishes the will (3.1.2.5). How soon is the keep-alive's matter:
 * here 1.5 × 5 s, and what Mosquitto takes to look, once a second or so.
 */
test("a link that goes silent fires both wills, after the keep-alive that both asked for", async () => {
  await listen();
  const link = await cable();
  await run(link.url);
  expect(link.keepAlivesS()).toEqual([5, 5]);
  await stranger.waitFor(({ topic }) => topic === "shed/contactor/set");
  await stranger.settle();
  stranger.seen.length = 0;
  link.freeze();
  await stranger.waitFor(({ topic }) => topic === "bywash/malga/status");
  await stranger.waitFor(({ topic }) => topic === "shed/contactor/set");
  await until(() => EXCEEDED.test(broker.log()));
  expect(commandsOf(stranger.seen)).toEqual(["shed/contactor/set 0"]);
  expect(stranger.seen[0]).toMatchObject({ isRetained: true });
  expect(stranger.seen.find(({ topic }) => topic.endsWith("/set"))).toMatchObject({
    isRetained: false,
    qos: 1,
  });
  link.mend();
});

/** MQTT 5.0, 3.3.2.3.3: the server must not deliver an application message past its expiry. */
test("an actuator that was away long never gets the old ON", async () => {
  await listen();
  const session = {
    clientId: "heater",
    clean: false,
    protocolVersion: 5 as const,
    properties: { sessionExpiryInterval: 600 },
  };
  const topics = ["shed/heater/set", "plain"];
  const heater = await createStranger(broker.url, { ...session, topics });
  await heater.end();
  const site = testSite({
    broker: testBroker(broker.url),
    actuators: testActuators().map((one) => ({ ...one, repeatMs: 400, holdMs: 1_000 })),
  });
  const started = await runDaemon(site);
  running.push(started);
  started.core.want({ loadStages: [2, 0], panelsClosed: [true] });
  started.tick();
  await stranger.waitFor(({ payload }) => payload === '{"stage":2}');
  // The same without an expiry does arrive, so that this check can fail.
  await stranger.say("plain", "ON");
  await new Promise((resolve) => setTimeout(resolve, 2_500));
  const back = await createStranger(broker.url, { ...session, topics: [] });
  open.push(back);
  await back.waitFor(({ topic }) => topic === "plain");
  expect(back.seen.map(({ payload }) => payload)).not.toContain('{"stage":2}');
  expect(back.seen.map(({ payload }) => payload)).toContain('{"stage":0}');
});

describe("shadow mode", () => {
  test("sends no command, not even by its will, and says what it is", async () => {
    await listen();
    const link = await cable();
    const { core, tick, daemon, clock } = await run(link.url, { mode: "shadow" });
    core.want(ALL_ON);
    tick();
    clock.advance(120_000);
    await stranger.waitFor(({ topic }) => topic === "bywash/malga/load/water-heater");
    link.cut();
    await stranger.waitFor(({ payload }) => payload.includes("offline"));
    link.mend();
    await daemon.stop();
    await stranger.settle();
    const own = stranger.seen.filter(({ topic }) => !topic.startsWith("marker/"));
    expect(own.length).toBeGreaterThan(3);
    for (const { topic, payload } of own) {
      expect(topic).toMatch(/^bywash\/malga\//u);
      expect(JSON.parse(payload)).toMatchObject({ mode: "shadow" });
    }
    expect(daemon.state().mode).toBe("shadow");
  });
});
