/** What an ill-meaning or broken client may try on the embedded broker; the service goes on. */
import { once } from "node:events";
import { connect } from "node:net";
import type { Socket } from "node:net";
import { connectAsync } from "mqtt";
import type { MqttClient } from "mqtt";
import { afterEach, beforeEach, expect, test } from "vitest";
import { runDaemon } from "../support/running-daemon.ts";
import type { RunningDaemon } from "../support/running-daemon.ts";
import { testSite } from "../support/site.ts";
import { createStranger } from "../support/stranger.ts";
import type { Stranger } from "../support/stranger.ts";
import { until } from "../support/until.ts";

/** MQTT 3.1.1 (OASIS Standard), 3.1: CONNECT, clean session, keep-alive 60 s, client id `raw`. */
const CONNECT = Buffer.from("100f00044d5154540402003c0003726177", "hex");

let running: RunningDaemon;
let shed: Stranger;
const open: { end: () => unknown }[] = [];

beforeEach(async () => {
  running = await runDaemon(testSite());
  shed = await createStranger(url(), { protocolVersion: 4, topics: ["shed/+/set"] });
  open.push(shed);
});
afterEach(async () => {
  for (const one of open.splice(0)) await one.end();
  await running.daemon.stop();
});

const url = (): string => running.daemon.brokerUrl() ?? "";

async function raw(): Promise<Socket> {
  const socket = connect(Number(new URL(url()).port), "127.0.0.1");
  socket.on("error", () => undefined);
  open.push({ end: () => socket.destroy() });
  await once(socket, "connect");
  return socket;
}

async function client(): Promise<MqttClient> {
  const made = await connectAsync(url(), { protocolVersion: 4, reconnectPeriod: 0 });
  made.on("error", () => undefined);
  open.push({ end: () => made.endAsync(true) });
  return made;
}

/** Telemetry still arrives, commands still leave, and our connections were never lost. */
async function expectServiceToGoOn(): Promise<void> {
  await shed.say("shed/battery", '{"soc":95,"v":54,"i":2}');
  await running.tickUntil(({ battery }) => battery.socFraction.quality === "fresh");
  running.core.want({ loadStages: [2, 1], panelsClosed: [true] });
  running.tick();
  await shed.waitFor(({ topic, payload }) => topic === "shed/pump/set" && payload === "1");
  expect(running.daemon.state()).toMatchObject({
    isBrokerConnected: true,
    brokerTroubles: [],
    counters: { brokerLossCount: 0 },
  });
  expect(running.core.observations.at(-1)?.isBrokerConnected).toBe(true);
}

test.each([
  ["in a first packet", Buffer.from("10ffffff7f", "hex")],
  ["after a right CONNECT", Buffer.concat([CONNECT, Buffer.from("30ffffff7f", "hex")])],
  ["just over the limit", Buffer.concat([CONNECT, Buffer.from("3081800400", "hex")])],
])("a packet too large %s is cut at its header", async (_when, bytes) => {
  const socket = await raw();
  socket.resume();
  socket.write(bytes);
  await once(socket, "close");
  await expectServiceToGoOn();
});

test("a packet at the limit is carried", async () => {
  const large = await client();
  await large.publishAsync("shed/large", Buffer.alloc(65_000), { qos: 1 });
  await expectServiceToGoOn();
});

test("who publishes without end is cut, and hurts nobody", async () => {
  const flooder = await client();
  let isCut = false;
  flooder.on("close", () => (isCut = true));
  for (let count = 0; count < 20_000; count += 1) flooder.publish("shed/flood", "1");
  await until(() => isCut);
  await expectServiceToGoOn();
});

test("who never says who he is, or says it too slowly, is cut in time", async () => {
  const startMs = performance.now();
  const silent = await raw();
  const slow = await raw();
  let at = 0;
  const drip = setInterval(() => {
    // The last byte never comes: nobody is let in, however long it takes.
    slow.write(CONNECT.subarray(at, Math.min(at + 1, CONNECT.length - 1)));
    at += 1;
  }, 400);
  slow.once("close", () => clearInterval(drip));
  silent.resume();
  slow.resume();
  await Promise.all([once(silent, "close"), once(slow, "close")]);
  expect(performance.now() - startMs).toBeGreaterThan(4_000);
  // Its drops were no reason to wait longer: they go on for 6.4 s, on the same loop's timers.
  expect(at).toBeGreaterThan(1);
  expect(at).toBeLessThan(CONNECT.length - 1);
  await expectServiceToGoOn();
});

test("silent connections of one address are few, and shut nobody of ours out", async () => {
  const sockets = await Promise.all(Array.from({ length: 30 }, raw));
  const cut: number[] = [];
  for (const [index, socket] of sockets.entries()) {
    socket.resume();
    socket.on("close", () => cut.push(index));
  }
  await until(() => cut.length >= 20);
  // At once those beyond ten; the first ten only when they have been silent for too long.
  const beyondTen = Array.from({ length: 20 }, (_, index) => 10 + index);
  expect(cut.slice(0, 20).toSorted((one, other) => one - other)).toEqual(beyondTen);
  await expectServiceToGoOn();
});

test("who does not read is cut, and holds nobody up", async () => {
  const deaf = await raw();
  deaf.write(CONNECT);
  await once(deaf, "data");
  // SUBSCRIBE to `shed/#` at QoS 0 (3.8), and never read again.
  deaf.write(Buffer.from("820b000100067368 65642f2300".replaceAll(" ", ""), "hex"));
  await once(deaf, "data");
  deaf.pause();
  let isCut = false;
  deaf.on("close", () => (isCut = true));
  deaf.on("end", () => (isCut = true));
  const talker = await client();
  const listener = await createStranger(url(), { protocolVersion: 4, topics: ["shed/large"] });
  open.push(listener);
  // More than the system's own buffers and ours together.
  for (let round = 0; round < 400; round += 1) {
    await talker.publishAsync("shed/large", Buffer.alloc(60_000), { qos: 1 });
  }
  await listener.waitFor(() => listener.seen.length === 400);
  deaf.resume();
  await until(() => isCut);
  await expectServiceToGoOn();
});

test("subscriptions and retained messages are limited", async () => {
  const greedy = await client();
  const filters = Array.from({ length: 600 }, (_, index) => `shed/${index}`);
  let granted = 0;
  for (const filter of filters) {
    await greedy.subscribeAsync(filter).then(
      () => (granted += 1),
      () => undefined,
    );
  }
  expect(granted).toBe(500);
  await greedy.unsubscribeAsync("shed/0");
  await expect(greedy.subscribeAsync("shed/599")).resolves.toBeDefined();
  let isCut = false;
  greedy.on("close", () => (isCut = true));
  for (let index = 0; index < 2_100; index += 1) {
    greedy.publish(`kept/${index}`, "1", { retain: true, qos: 0 });
    if (index % 100 === 99) await new Promise((resolve) => setTimeout(resolve, 80));
  }
  await until(() => isCut);
  const late = await createStranger(url(), { protocolVersion: 4, topics: ["kept/#"] });
  open.push(late);
  // The service's own few count among the 2,000.
  await late.waitFor(({ topic }) => topic === "kept/1990");
  await late.settle();
  expect(late.seen.map(({ topic }) => topic)).not.toContain("kept/2000");
  await expectServiceToGoOn();
});
