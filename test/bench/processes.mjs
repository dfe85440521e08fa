// Programs that the bench starts, and ends again whatever happens. All on loopback.
import { spawn } from "node:child_process";
import { accessSync, constants, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { connect as connectSocket, createServer } from "node:net";
import { tmpdir } from "node:os";
import { delimiter, join } from "node:path";
import { fileURLToPath } from "node:url";
import { connect } from "mqtt";

const HOST = "127.0.0.1";
const READY_WITHIN_MS = 15_000;
const END_WITHIN_MS = 12_000;
const SAID_MAX = 20_000;

/** A case that could not be measured; the bench goes on with the next and ends with 1. */
export class NotMeasured extends Error {}

/** Runs `work` with a folder and a way to register what has to be ended, last first. */
export async function withCleanUp(work) {
  const folder = mkdtempSync(join(tmpdir(), "bywash-bench-"));
  const ends = [() => rmSync(folder, { recursive: true, force: true })];
  try {
    return await work({ folder, onEnd: (end) => void ends.push(end) });
  } finally {
    for (const end of ends.reverse()) await end();
  }
}

export async function startMosquitto({ folder, onEnd }) {
  const program = findMosquitto();
  const port = await freePort();
  const file = join(folder, `mosquitto-${port}.conf`);
  const access = [`listener ${port} ${HOST}`, "allow_anonymous true", "persistence false"];
  // As in deploy/mosquitto.conf. Without it a small packet may wait 40 ms for the acknowledgement
  // of the one before, and that wait is all that would be measured.
  const pace = "set_tcp_nodelay true";
  writeFileSync(file, [...access, pace, "log_dest stderr", ""].join("\n"));
  const child = start({ program, args: ["-c", file], onEnd });
  await untilListening(port, child);
  return { url: `mqtt://${HOST}:${port}`, protocolVersion: 5 };
}

export const AS_DEPLOYED =
  "as deployed: in the environment of deploy/bywash.service and the Dockerfile";

/** As deploy/bywash.service and the Dockerfile start the daemon. */
export function deployedEnvironment() {
  const unit = readFileSync("deploy/bywash.service", "utf8");
  const found = /^Environment=(.+)$/mu.exec(unit);
  if (found === null) throw new NotMeasured("deploy/bywash.service sets no environment");
  return Object.fromEntries(found[1].split(" ").map((setting) => setting.split("=")));
}

/** The embedded broker's own code, in a process of its own. */
export async function startEmbeddedBroker({ onEnd }) {
  const port = await freePort();
  const script = fileURLToPath(new URL("./embedded-broker.mjs", import.meta.url));
  const child = start({ program: process.execPath, args: [script, String(port)], onEnd });
  await untilListening(port, child);
  return embeddedAt(port);
}

/** The embedded broker speaks 3.1.1 alone. */
export function embeddedAt(port) {
  return { url: `mqtt://${HOST}:${port}`, protocolVersion: 4 };
}

export function startBareClient({ onEnd }, { url, protocolVersion }, topics, env = {}) {
  const script = fileURLToPath(new URL("./bare-client.mjs", import.meta.url));
  const args = [script, url, String(protocolVersion), ...topics];
  return start({ program: process.execPath, args, onEnd, env });
}

/** Publishes `messages` round robin until it is ended. */
export function startChatter({ onEnd }, { url, protocolVersion }, { messages, perSecond }) {
  const script = fileURLToPath(new URL("./chatter.mjs", import.meta.url));
  const args = [script, url, String(protocolVersion), String(perSecond), JSON.stringify(messages)];
  return start({ program: process.execPath, args, onEnd });
}

/** One of the bench's own scripts, in a process of its own. */
export function startScript({ onEnd }, script, { args, nodeArgs = [] }) {
  const all = [...nodeArgs, fileURLToPath(script), ...args];
  return start({ program: process.execPath, args: all, onEnd });
}

export function startDaemon({ onEnd }, file, env = {}) {
  const args = ["dist/service/main.js", "serve", "--config", file, "--log-level", "warn"];
  return start({ program: process.execPath, args, onEnd, env });
}

function start({ program, args, onEnd, env = {} }) {
  const process_ = spawn(program, args, {
    stdio: ["ignore", "pipe", "pipe"],
    env: { ...process.env, ...env },
  });
  const child = { pid: process_.pid, said: "", hasEnded: false, end };
  const ended = new Promise((resolve) => {
    process_.once("error", (error) => {
      child.said += error.message;
      child.hasEnded = true;
      resolve();
    });
    process_.once("exit", () => {
      child.hasEnded = true;
      resolve();
    });
  });
  const listen = (chunk) => {
    child.said = (child.said + chunk.toString()).slice(-SAID_MAX);
  };
  process_.stdout.on("data", listen);
  process_.stderr.on("data", listen);
  onEnd(end);
  return child;

  async function end() {
    if (child.hasEnded) return;
    process_.kill("SIGTERM");
    await Promise.race([ended, sleep(END_WITHIN_MS)]);
    if (!child.hasEnded) process_.kill("SIGKILL");
    await ended;
  }
}

/** @returns A connected client of the bench, ended with the rest; null if nothing listens. */
export async function startClient({ onEnd }, { url, protocolVersion }, topics) {
  const client = connect(url, { protocolVersion, reconnectPeriod: 0, clean: true });
  onEnd(() => client.endAsync(true));
  const isThere = await within(READY_WITHIN_MS, "the bench's client connected", (resolve) => {
    client.once("connect", () => resolve(true));
    client.on("error", () => resolve(false));
  });
  if (!isThere) return null;
  client.stream.setNoDelay(true);
  if (topics.length > 0) await client.subscribeAsync(topics, { qos: 1 });
  return client;
}

/** Resident memory of a process. [MB] */
export function residentMb(pid) {
  const status = readFileSync(`/proc/${pid}/status`, "utf8");
  const found = /^VmRSS:\s+(\d+) kB$/mu.exec(status);
  if (found === null) throw new NotMeasured(`process ${pid} has no resident memory`);
  return Number(found[1]) / 1024;
}

/** @throws NotMeasured after `limitMs`. */
export function within(limitMs, what, begin) {
  return new Promise((resolve, reject) => {
    const timer = setTimeout(
      () => reject(new NotMeasured(`not within ${limitMs} ms: ${what}`)),
      limitMs,
    );
    begin((value) => {
      clearTimeout(timer);
      resolve(value);
    });
  });
}

/** Asks every `everyMs` until `isSo`; ends early if the child does. */
export async function until(isSo, { child, what, everyMs = 20, limitMs = READY_WITHIN_MS }) {
  const untilMs = performance.now() + limitMs;
  while (performance.now() < untilMs) {
    if (await isSo()) return;
    if (child?.hasEnded) throw new NotMeasured(`${what}: the process ended: ${child.said}`);
    await sleep(everyMs);
  }
  throw new NotMeasured(`${what}: not within ${limitMs} ms: ${child?.said ?? ""}`);
}

export async function isReady(webPort) {
  try {
    const response = await fetch(`http://${HOST}:${webPort}/readyz`);
    await response.text();
    return response.status === 200;
  } catch {
    return false;
  }
}

/** The daemon's own count of messages that have arrived. */
export async function receivedCount(webPort) {
  const response = await fetch(`http://${HOST}:${webPort}/api/state`);
  const state = await response.json();
  return state.counters.receivedCount;
}

export function sleep(ms) {
  return new Promise((resolve) => setTimeout(resolve, ms));
}

export async function freePort() {
  const server = createServer();
  await new Promise((resolve) => server.listen(0, HOST, resolve));
  const { port } = server.address();
  await new Promise((resolve) => server.close(resolve));
  return port;
}

function untilListening(port, child) {
  const isOpen = () =>
    new Promise((resolve) => {
      const socket = connectSocket(port, HOST);
      socket.once("connect", () => {
        socket.destroy();
        resolve(true);
      });
      socket.once("error", () => resolve(false));
    });
  return until(isOpen, { child, what: "the broker listens" });
}

function findMosquitto() {
  const given = process.env.MOSQUITTO ?? "";
  if (given !== "") return given;
  const folders = [...(process.env.PATH ?? "").split(delimiter), "/usr/sbin", "/usr/local/sbin"];
  const found = folders.map((folder) => join(folder, "mosquitto")).find(isExecutable);
  if (found === undefined) throw new NotMeasured("no mosquitto in PATH, /usr/sbin or MOSQUITTO");
  return found;
}

function isExecutable(path) {
  try {
    accessSync(path, constants.X_OK);
    return true;
  } catch {
    return false;
  }
}
