/** The embedded broker with users: who gets in, and that nobody commands past the service. */
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { once } from "node:events";
import { connect } from "node:net";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { connect as connectTls } from "node:tls";
import { connectAsync } from "mqtt";
import type { IClientOptions, MqttClient } from "mqtt";
import { afterEach, beforeEach, describe, expect, test } from "vitest";
import type { BrokerUserSettings } from "../../config/site-settings.ts";
import { createEmbeddedBroker } from "../../service/broker/embedded.ts";
import { makeAuthority, makeCertificate } from "../support/certificates.ts";
import { silentLog } from "../support/log.ts";
import { runDaemon } from "../support/running-daemon.ts";
import type { RunningDaemon } from "../support/running-daemon.ts";
import { OPEN_EMBEDDED, testBroker, testSite } from "../support/site.ts";
import { commandsOf, createStranger } from "../support/stranger.ts";
import type { Stranger } from "../support/stranger.ts";
import { until } from "../support/until.ts";

const ALL_ON = { loadStages: [2, 1], panelsClosed: [true] };
const BATTERY = '{"soc":95,"v":54,"i":2}';

let folder: string;
let running: RunningDaemon;
const open: { end: () => Promise<unknown> }[] = [];

function user(name: string, publish: string[], subscribe: string[]): BrokerUserSettings {
  const passwordFile = join(folder, `${name}.password`);
  writeFileSync(passwordFile, `secret-${name}\n`, { mode: 0o600 });
  return { name, passwordFile, publish, subscribe };
}

beforeEach(async () => {
  folder = mkdtempSync(join(tmpdir(), "bywash-users-"));
  const users = [
    user("meters", ["shed/+", "shed/+/w", "shed/+/c"], []),
    user("heater", ["shed/heater"], ["shed/heater/set"]),
    user("screen", [], ["bywash/#", "shed/#"]),
  ];
  const broker = { ...testBroker(null), embedded: { ...OPEN_EMBEDDED, users } };
  running = await runDaemon(testSite({ broker }));
});
afterEach(async () => {
  for (const one of open.splice(0)) await one.end();
  await running.daemon.stop();
  rmSync(folder, { recursive: true });
});

const url = (): string => running.daemon.brokerUrl() ?? "";

function login(name: string, own: IClientOptions = {}): IClientOptions {
  const password = `secret-${name}`;
  return { username: name, password, protocolVersion: 4, reconnectPeriod: 0, ...own };
}

async function as(name: string, topics: string[], own: IClientOptions = {}): Promise<Stranger> {
  const stranger = await createStranger(url(), { ...login(name, own), topics });
  open.push(stranger);
  return stranger;
}

async function client(options: IClientOptions): Promise<MqttClient> {
  const made = await connectAsync(url(), options);
  made.on("error", () => undefined);
  open.push({ end: () => made.endAsync(true) });
  return made;
}

/** MQTT 3.1.1 (OASIS Standard), table 3.1. */
describe("refuses to let in", () => {
  test.each([
    ["somebody without a name", { protocolVersion: 4 }, 4],
    ["a wrong password", { username: "meters", password: "secret-heater" }, 4],
    ["a name without a password", { username: "meters" }, 4],
    ["an unknown name", { username: "nobody", password: "secret-meters" }, 4],
    ["the service's own name", { username: "$service", password: "guess" }, 4],
    ["a client id of the service", { ...login("meters"), clientId: "malga-switching" }, 2],
    ["a will that commands", { ...login("meters"), will: will("shed/heater/set") }, 5],
    ["a will in the service's name", { ...login("screen"), will: will("bywash/malga/status") }, 5],
    ["a keep-alive without end", { ...login("meters"), keepalive: 0 }, 6],
    ["a keep-alive of hours", { ...login("meters"), keepalive: 7_200 }, 6],
  ] as [string, IClientOptions, number][])("%s", async (_who, options, code) => {
    const attempt = connectAsync(url(), { protocolVersion: 4, reconnectPeriod: 0, ...options });
    await expect(attempt).rejects.toMatchObject({ code });
    expect(running.daemon.state().counters.brokerLossCount).toBe(0);
  });
});

function will(topic: string): NonNullable<IClientOptions["will"]> {
  return { topic, payload: Buffer.from('{"stage":2}'), qos: 1, retain: false };
}

test("telemetry and commands reach those who may have them", async () => {
  const meters = await as("meters", []);
  const heater = await as("heater", ["shed/heater/set"]);
  const screen = await as("screen", ["bywash/#", "shed/#"]);
  await meters.say("shed/battery", BATTERY);
  await running.tickUntil(({ battery }) => battery.socFraction.quality === "fresh");
  running.core.want(ALL_ON);
  running.tick();
  await heater.waitFor(({ payload }) => payload === '{"stage":2}');
  await screen.waitFor(({ topic }) => topic === "bywash/malga/load/water-heater");
  await screen.waitFor(({ topic }) => topic === "shed/battery");
});

test.each(["meters", "heater", "screen"])("%s commands no heater", async (name) => {
  const heater = await as("heater", ["shed/heater/set"]);
  const intruder = await client(login(name));
  let isCut = false;
  intruder.on("close", () => (isCut = true));
  intruder.publish("shed/heater/set", '{"stage":2}', { qos: 1 });
  await until(() => isCut);
  // What the service says afterwards comes afterwards.
  running.core.want({ loadStages: [1, 0], panelsClosed: [true] });
  running.tick();
  await heater.waitFor(({ payload }) => payload === '{"stage":1}');
  expect(commandsOf(heater.seen)).toEqual(['shed/heater/set {"stage":1}']);
});

test("a retained command is not kept either", async () => {
  const intruder = await client(login("meters"));
  let isCut = false;
  intruder.on("close", () => (isCut = true));
  intruder.publish("shed/heater/set", '{"stage":2}', { qos: 1, retain: true });
  await until(() => isCut);
  const heater = await as("heater", ["shed/heater/set"]);
  running.core.want({ loadStages: [1, 0], panelsClosed: [true] });
  running.tick();
  await heater.waitFor(({ payload }) => payload === '{"stage":1}');
  expect(heater.seen).toHaveLength(1);
});

test.each([
  ["meters", "shed/heater/set"],
  ["heater", "#"],
  ["heater", "shed/+/set"],
  ["heater", "shed/battery"],
  ["screen", "#"],
  ["screen", "+/malga/status"],
  ["screen", "$SYS/#"],
  ["screen", "$SYS/+/new/clients"],
])("%s may not listen to %s", async (name, filter) => {
  const listener = await client(login(name));
  const attempt = listener.subscribeAsync(filter, { qos: 1 });
  await expect(attempt).rejects.toMatchObject({ packet: { granted: [128] } });
});

test("nothing is kept for a client that is away", async () => {
  const session = { clientId: "heater-1", clean: false };
  const first = await as("heater", ["shed/heater/set"], session);
  await first.end();
  open.length = 0;
  running.core.want(ALL_ON);
  running.tick();
  const screen = await as("screen", ["bywash/malga/load/+"]);
  await screen.waitFor(({ payload }) => payload.includes('"stage":2'));
  const again = await as("heater", [], session);
  const next = await as("heater", ["shed/heater/set"]);
  running.core.want({ loadStages: [1, 0], panelsClosed: [true] });
  running.tick();
  await next.waitFor(({ payload }) => payload === '{"stage":1}');
  expect(again.seen).toEqual([]);
});

test("a changed password counts at the next connection, and a lost file lets nobody in", async () => {
  const file = join(folder, "meters.password");
  writeFileSync(file, "another");
  await expect(client(login("meters"))).rejects.toMatchObject({ code: 4 });
  await expect(client(login("meters", { password: "another" }))).resolves.toBeDefined();
  rmSync(file);
  await expect(client(login("meters", { password: "another" }))).rejects.toMatchObject({ code: 4 });
  await expect(client(login("meters", { password: "" }))).rejects.toMatchObject({ code: 4 });
});

test("one user's client id can't be taken by another, and comes free again", async () => {
  const holder = await client(login("meters", { clientId: "gateway" }));
  let isCut = false;
  holder.on("close", () => (isCut = true));
  const thief = client(login("screen", { clientId: "gateway" }));
  await expect(thief).rejects.toMatchObject({ code: 2 });
  expect(isCut).toBe(false);
  await holder.endAsync();
  const next = () => client(login("screen", { clientId: "gateway" }));
  const isLetIn = (): Promise<boolean> =>
    next().then(
      () => true,
      () => false,
    );
  await expect.poll(isLetIn, { timeout: 60_000 }).toBe(true);
});

describe("settings that would not do", () => {
  test("a password file that is missing or empty is said at the start", async () => {
    const lost = { ...OPEN_EMBEDDED, users: [user("lost", [], [])] };
    rmSync(join(folder, "lost.password"));
    const expected = { problems: [{ code: "password-file-unreadable" }] };
    await expect(createEmbeddedBroker(lost, silentLog)).rejects.toMatchObject(expected);
    writeFileSync(join(folder, "lost.password"), "\n");
    await expect(createEmbeddedBroker(lost, silentLog)).rejects.toMatchObject(expected);
  });

  test("other machines are let in with users alone", async () => {
    const users = [user("meters", [], [])];
    const wide = await createEmbeddedBroker(
      { ...OPEN_EMBEDDED, host: "0.0.0.0", users },
      silentLog,
    );
    open.push({ end: wide.close });
    const attempt = connectAsync(`mqtt://127.0.0.1:${wide.port}`, { reconnectPeriod: 0 });
    await expect(attempt).rejects.toBeDefined();
  });
});

test("with a certificate it speaks TLS 1.2 or later, and nothing else", async () => {
  const authority = makeAuthority("authority");
  const pair = makeCertificate(authority, { name: "broker", hosts: ["127.0.0.1"] });
  const files = { certificateFile: join(folder, "b.pem"), keyFile: join(folder, "b.key") };
  writeFileSync(files.certificateFile, pair.certificate);
  writeFileSync(files.keyFile, pair.key);
  const site = testSite({
    broker: { ...testBroker(null), embedded: { ...OPEN_EMBEDDED, tls: files } },
  });
  const secured = await runDaemon(site);
  open.push({ end: () => secured.daemon.stop() });
  const at = secured.daemon.brokerUrl() ?? "";
  expect(at).toMatch(/^mqtts:/u);
  expect(secured.daemon.state().isBrokerConnected).toBe(true);
  const shed = await createStranger(at, {
    protocolVersion: 4,
    ca: authority.certificate,
    topics: [],
  });
  await shed.say("shed/battery", BATTERY);
  await secured.tickUntil(({ battery }) => battery.socFraction.quality === "fresh");
  await shed.end();
  const { port } = new URL(at);
  const plain = connect(Number(port), "127.0.0.1");
  plain.on("error", () => undefined);
  // A CONNECT packet of MQTT 3.1.1 without TLS around it.
  plain.write(Buffer.from("100c00044d5154540402003c0000", "hex"));
  let heard = "";
  plain.on("data", (bytes) => (heard += bytes.toString("hex")));
  await once(plain, "close");
  // 0x20 would be its CONNACK.
  expect(heard).not.toMatch(/^20/u);
  const old = connectTls({
    port: Number(port),
    host: "127.0.0.1",
    ca: authority.certificate,
    maxVersion: "TLSv1.1",
    minVersion: "TLSv1",
    ciphers: "DEFAULT@SECLEVEL=0",
  });
  const answer = await new Promise((resolve) => {
    old.once("secureConnect", () => resolve("let in"));
    old.once("error", () => resolve("refused"));
  });
  expect(answer).toBe("refused");
});
