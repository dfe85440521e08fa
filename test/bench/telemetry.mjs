// What the table of latest values bears: 5,000 messages a second at a real daemon, with the trip to
// OFF measured meanwhile; the most it takes, beside a bare subscriber; and an hour in memory.
import { batteryPayload, BATTERY_TOPIC, COMMAND_TOPIC, EXAMPLE_ALL } from "./site-file.mjs";
import { HEALTHY_V, QUICK_OTHERS, QUICK_TICK_MS, TRIP_V, writeQuickSite } from "./site-file.mjs";
import { startDevices } from "./latency.mjs";
import { freePort, isReady, NotMeasured, receivedCount, sleep } from "./processes.mjs";
import { startChatter, startDaemon, startMosquitto, startScript } from "./processes.mjs";
import { until, withCleanUp } from "./processes.mjs";
import { summary } from "./report.mjs";

const PER_SECOND = 5_000;
const SETTLE_MS = 2_000;
const GOLDEN = 0.618034;
const BEFORE_TICK_MS = 50;
const ON_WITHIN_MS = 15_000;
const OFF_WITHIN_MS = 5_000;
/** Messages of one run of the comparison, and how often each client runs, in turn. */
const FLOOD = 200_000;
const ROUNDS = 7;
const FLOOD_WITHIN_MS = 120_000;
const HOUR_WITHIN_MS = 600_000;

export async function measureTelemetry({ seconds }, { say, attempt }) {
  say(`telemetry: ${PER_SECOND} messages/s for ${seconds} s`);
  const busy = await attempt("telemetry, busy", () => withCleanUp((s) => runBusy(s, seconds)));
  say(`telemetry: ${ROUNDS} × ${FLOOD} messages, bare and with the table`);
  const most = await attempt("telemetry, most", () => withCleanUp(runMost));
  say("telemetry: an hour in memory");
  const hour = await attempt("telemetry, hour", () => withCleanUp(runHour));
  return {
    title: `Telemetry at ${PER_SECOND} messages/s, at the most, and for an hour`,
    columns: ["", "unit"],
    rows: [...busyRows(busy), ...mostRows(most), ...hourRows(hour)],
    notes: [
      "aims: nothing behind; the table at least 0.8 of a bare subscriber; no slope",
      "CPU figures, not the wall clock, so that a busy machine does not decide",
    ],
    result: { busy, most, hour },
  };
}

function row(name, value, unit, digits = 0) {
  return { name, cells: [value.toFixed(digits), unit] };
}

function busyRows(busy) {
  if (busy === null) return [];
  return [
    row("published", busy.published, "messages"),
    row("received", busy.received, "messages"),
    row("behind 2 s after the end", busy.published - busy.received, "messages"),
    row("rate", busy.published / busy.seconds, "1/s"),
    row(`trip to OFF, p50 of ${busy.trip.count}`, busy.trip.p50, "ms", 2),
    row("trip to OFF, p99", busy.trip.p99, "ms", 2),
    row("trip to OFF, longest", busy.trip.max, "ms", 2),
  ];
}

function mostRows(most) {
  if (most === null) return [];
  return [
    row("bare subscriber, fastest", most.bare, "1/CPU s"),
    row("with the table, fastest", most.table, "1/CPU s"),
    row("ratio", most.table / most.bare, "", 2),
  ];
}

function hourRows(hour) {
  if (hour === null) return [];
  return [
    row("messages, with 2 h of warm-up", hour.messages, ""),
    row("heap after warm-up", hour.heapMb, "MB", 1),
    row("slope of the heap", hour.heapSlopeMbPerH, "MB/h", 2),
    row("slope of resident memory", hour.residentSlopeMbPerH, "MB/h", 2),
    row("samples", hour.samples, ""),
  ];
}

async function runBusy(scope, seconds) {
  const at = await startMosquitto(scope);
  const webPort = await freePort();
  const daemon = startDaemon(scope, writeQuickSite(scope.folder, { broker: at, webPort }));
  const { sensor, ear } = await startDevices(scope, at, { topics: [COMMAND_TOPIC], child: daemon });
  let told = 0;
  const tell = (voltageV) => {
    told += 1;
    sensor.publish(BATTERY_TOPIC, batteryPayload(voltageV), { qos: 1 });
  };
  const isHeard = async () => (tell(HEALTHY_V), (await countOf(webPort)) > 0);
  await until(isHeard, { child: daemon, what: "the daemon listens" });
  await sleep(SETTLE_MS);
  const before = await countOf(webPort);
  told = 0;
  const chatter = startChatter(scope, at, { messages: QUICK_OTHERS, perSecond: PER_SECOND });
  await until(() => (tell(HEALTHY_V), isReady(webPort)), { child: daemon, what: "ready" });

  const startMs = performance.now();
  const tripMs = [];
  for (let count = 0; performance.now() - startMs < seconds * 1000; count += 1) {
    const on = ear.next(COMMAND_TOPIC, { what: "an ON", limitMs: ON_WITHIN_MS, payload: "on" });
    tell(HEALTHY_V);
    await on;
    await sleep(((count * GOLDEN) % 1) * (QUICK_TICK_MS - BEFORE_TICK_MS));
    const off = ear.next(COMMAND_TOPIC, { what: "an OFF", limitMs: OFF_WITHIN_MS, payload: "off" });
    const trippedMs = performance.now();
    tell(TRIP_V);
    tripMs.push((await off).atMs - trippedMs);
  }
  await chatter.end();
  const chatterSeconds = (performance.now() - startMs) / 1000;
  await sleep(SETTLE_MS);
  const published = told + numberIn(chatter, /published (\d+)/u);
  const received = (await countOf(webPort)) - before;
  return { seconds: chatterSeconds, published, received, trip: summary(tripMs) };
}

/** 0 until the web server answers. */
async function countOf(webPort) {
  try {
    return await receivedCount(webPort);
  } catch {
    return 0;
  }
}

/** The clients take turns, so that a machine that slows down slows down both. */
async function runMost(scope) {
  const at = await startMosquitto(scope);
  const rates = { bare: [], table: [] };
  for (let round = 0; round < ROUNDS; round += 1) {
    for (const kind of ["bare", "table"]) {
      rates[kind].push(await flood(scope, at, kind));
    }
  }
  // The fastest of each: another program on the machine can only slow a round down.
  return { bare: Math.max(...rates.bare), table: Math.max(...rates.table), rates };
}

async function flood(scope, at, kind) {
  const args = [at.url, String(at.protocolVersion), kind, String(FLOOD)];
  const client = startScript(scope, new URL("./table-client.mjs", import.meta.url), { args });
  const isThere = () => client.said.includes("listening");
  await until(isThere, { child: client, what: "the subscriber listens" });
  startScript(scope, new URL("./flood.mjs", import.meta.url), {
    args: [at.url, String(at.protocolVersion), String(FLOOD), JSON.stringify(EXAMPLE_ALL)],
  });
  await until(() => client.hasEnded, { what: "the flood", limitMs: FLOOD_WITHIN_MS });
  return numberIn(client, /perCpuSecond (\d+)/u);
}

async function runHour(scope) {
  const child = startScript(scope, new URL("./table-hour.mjs", import.meta.url), {
    args: [],
    nodeArgs: ["--expose-gc"],
  });
  await until(() => child.hasEnded, { what: "the hour", everyMs: 500, limitMs: HOUR_WITHIN_MS });
  const line = child.said.trim().split("\n").at(-1) ?? "";
  try {
    return JSON.parse(line);
  } catch {
    throw new NotMeasured(`the hour ended: ${child.said}`);
  }
}

function numberIn(child, pattern) {
  const found = pattern.exec(child.said);
  if (found === null) throw new NotMeasured(`it ended without a number: ${child.said}`);
  return Number(found[1]);
}
