/** The built program as a process: killed, told to stop, and started wrongly. */
import { spawn } from "node:child_process";
import type { ChildProcess } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { createServer } from "node:net";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { afterAll, beforeAll, expect, test } from "vitest";
import { EXCEEDED, startMosquitto } from "../support/mosquitto.ts";
import type { Mosquitto } from "../support/mosquitto.ts";
import { createStranger } from "../support/stranger.ts";
import type { Stranger } from "../support/stranger.ts";

const PROGRAM = resolve("dist/service/main.js");
const EXAMPLE = resolve("config/examples/malga.yaml");

let broker: Mosquitto;
let stranger: Stranger;
let folder: string;
let settings: string;
const started: ChildProcess[] = [];

beforeAll(async () => {
  broker = await startMosquitto();
  stranger = await createStranger(broker.url);
  folder = mkdtempSync(join(tmpdir(), "bywash-serve-"));
  settings = join(folder, "malga.yaml");
  const example = readFileSync(EXAMPLE, "utf8");
  const withUrl = example.replace(
    / {2}embedded:.*\n {4}host:.*\n {4}port:.*\n/u,
    `  url: ${broker.url}\n`,
  );
  expect(withUrl).not.toBe(example);
  writeFileSync(settings, withUrl);
});
afterAll(async () => {
  // A test that fails leaves its service running.
  for (const process of started) process.kill("SIGKILL");
  await stranger.end();
  await broker.stop();
  rmSync(folder, { recursive: true });
});

interface Served {
  readonly process: ChildProcess;
  /** Or the signal that ended it. */
  readonly exitCode: Promise<number | string | null>;
  readonly said: () => string;
}

function serve(file: string, ...flags: string[]): Served {
  const own = ["web.port=0", `history.folder=${join(folder, "history")}`];
  const args = [PROGRAM, "serve", "--config", file, ...own.flatMap((set) => ["--set", set])];
  const child = spawn(process.execPath, [...args, ...flags], { stdio: "pipe" });
  started.push(child);
  let said = "";
  child.stdout.on("data", (chunk: Buffer) => (said += chunk.toString()));
  child.stderr.on("data", (chunk: Buffer) => (said += chunk.toString()));
  const exitCode = new Promise<number | string | null>((done) => {
    child.once("exit", (code, signal) => done(code ?? signal));
  });
  return { process: child, exitCode, said: () => said };
}

async function serveUntilUp(...flags: string[]): Promise<Served> {
  stranger.seen.length = 0;
  const served = serve(settings, ...flags);
  await stranger.waitFor(({ topic }) => topic === "bywash/malga/state");
  await stranger.settle();
  return served;
}

function lastPayloads(): Map<string, string> {
  const own = stranger.seen.filter(({ topic }) => !topic.startsWith("marker/"));
  return new Map(own.map(({ topic, payload }) => [topic, payload]));
}

/** MQTT 5.0 (OASIS Standard), 3.1.2.5: the will is published when the network connection fails. */
test.each(["5", "3.1.1"])(
  "killed outright, MQTT %s: offline, and the contactor opens",
  async (version) => {
    const served = await serveUntilUp("--set", `broker.protocol=${version}`);
    const before = lastPayloads();
    const contactor = [...before.keys()].find((topic) => topic.includes("contactor")) ?? "none";
    const off = before.get(contactor);
    stranger.seen.length = 0;
    served.process.kill("SIGKILL");
    await served.exitCode;
    const status = await stranger.waitFor(({ topic }) => topic === "bywash/malga/status");
    const opened = await stranger.waitFor(({ topic }) => topic === contactor);
    // The broker did not have to wait for a silence of one and a half times the keep-alive.
    expect(broker.log()).not.toMatch(EXCEEDED);
    expect(status).toMatchObject({ isRetained: true });
    expect(JSON.parse(status.payload)).toEqual({
      status: "offline",
      mode: "active",
      isTimeSimulated: false,
    });
    expect(opened).toMatchObject({ isRetained: false, qos: 1, payload: off });
  },
);

test("told to stop, it switches everything off, says offline and ends with 0", async () => {
  const served = await serveUntilUp();
  const atStart = new Map([...lastPayloads()].filter(([topic]) => !topic.startsWith("bywash/")));
  expect(atStart.size).toBeGreaterThanOrEqual(3);
  stranger.seen.length = 0;
  served.process.kill("SIGTERM");
  expect(await served.exitCode).toBe(0);
  await stranger.settle();
  const after = lastPayloads();
  // What it said first, to each actuator, was OFF; the last word is the same.
  for (const [topic, off] of atStart) expect(after.get(topic)).toBe(off);
  expect(after.get("bywash/malga/status")).toBe(
    '{"status":"offline","mode":"active","isTimeSimulated":false}',
  );
});

test("in shadow mode it commands nothing", async () => {
  stranger.seen.length = 0;
  const served = serve(settings, "--shadow");
  await stranger.waitFor(({ topic, payload }) => {
    return topic === "bywash/malga/state" && payload.includes("shadow");
  });
  served.process.kill("SIGTERM");
  expect(await served.exitCode).toBe(0);
  await stranger.settle();
  const topics = [...lastPayloads().keys()];
  expect(topics.length).toBeGreaterThan(2);
  expect(topics.filter((topic) => !topic.startsWith("bywash/malga/"))).toEqual([]);
});

interface TakenPort {
  readonly port: number;
  readonly free: () => Promise<unknown>;
}

async function takePort(): Promise<TakenPort> {
  const taken = createServer();
  await new Promise<void>((done) => taken.listen(0, "127.0.0.1", done));
  const address = taken.address();
  const port = typeof address === "object" && address !== null ? address.port : 0;
  return { port, free: () => new Promise((done) => taken.close(done)) };
}

test("a port that is taken ends it with 2 and says which", async () => {
  const { port, free } = await takePort();
  const served = serve(EXAMPLE, "--set", `broker.embedded.port=${port}`);
  expect(await served.exitCode).toBe(2);
  expect(served.said()).toContain("[embedded-broker-port]");
  await free();
});

test("a signal while a start that has failed is wound up cuts nothing short", async () => {
  const { port, free } = await takePort();
  stranger.seen.length = 0;
  // It decides before its web server listens, and this one cannot: everything goes off again.
  const served = serve(settings, "--set", `web.port=${port}`);
  const timesOff = (): number =>
    stranger.seen.filter(({ topic }) => topic.includes("contactor")).length;
  await stranger.waitFor(() => timesOff() === 2);
  served.process.kill("SIGTERM");
  expect(await served.exitCode).toBeTypeOf("number");
  await stranger.settle();
  expect(lastPayloads().get("bywash/malga/status")).toContain("offline");
  await free();
});

test("a file that is not there ends it with 2", async () => {
  const served = serve(join(folder, "none.yaml"));
  expect(await served.exitCode).toBe(2);
  expect(served.said()).toContain("none.yaml");
});
