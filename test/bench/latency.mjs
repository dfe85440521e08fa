// From the message that trips an interlock to the OFF at the actuator, beside the round trip of a
// bare client on the same broker.
//
// The bench is the sensor that publishes the battery's voltage and the actuator that hears the
// command, on a connection each, so that one clock measures both ends. Trips come at all phases of
// the tick (golden-ratio steps), not only where a tick has just been.
import {
  AS_DEPLOYED,
  deployedEnvironment,
  embeddedAt,
  freePort,
  isReady,
  NotMeasured,
  receivedCount,
  startBareClient,
  startChatter,
  startClient,
  startDaemon,
  startEmbeddedBroker,
  startMosquitto,
  sleep,
  until,
  within,
  withCleanUp,
} from "./processes.mjs";
import { summary } from "./report.mjs";
import {
  BATTERY_TOPIC,
  batteryPayload,
  COMMAND_TOPIC,
  HEALTHY_V,
  QUICK_OTHERS,
  QUICK_TICK_MS,
  TRIP_V,
  writeQuickSite,
} from "./site-file.mjs";

/** Messages a second on the site's own topics. */
const IDLE_PER_SECOND = 5;
const BUSY_PER_SECOND = 1_000;
const BUSY_SHARE_MIN = 0.95;
/** An idle service is slow to come on again, and its trips differ little. [1] of the trips */
const IDLE_SHARE = 0.25;
const WARM_UP = 10;
const PING_EVERY_MS = 50;
const OFF_WITHIN_MS = 5_000;
const ON_WITHIN_MS = 15_000;
/** Milliseconds before the next tick that are left out, so that the trip is not that tick's. */
const BEFORE_TICK_MS = 50;
const GOLDEN = 0.618034;
const AIM_OVER_FLOOR_MS = 25;

const CASES = [
  { label: "mosquitto", broker: "mosquitto", isDeployed: false },
  { label: "mosquitto, as deployed", broker: "mosquitto", isDeployed: true },
  { label: "embedded", broker: "embedded", isDeployed: false },
].flatMap(({ label, ...one }) => [
  { ...one, name: `${label}, idle`, perSecond: IDLE_PER_SECOND },
  { ...one, name: `${label}, ${BUSY_PER_SECOND} msg/s`, perSecond: BUSY_PER_SECOND },
]);

export async function measureLatency({ trips: tripsMax }, { say, attempt }) {
  const result = [];
  for (const one of CASES) {
    const isIdle = one.perSecond === IDLE_PER_SECOND;
    const trips = isIdle ? Math.ceil(IDLE_SHARE * tripsMax) : tripsMax;
    say(`latency: ${one.name}, ${trips} trips`);
    const measured = await attempt(`latency, ${one.name}`, () => measureCase(one, trips));
    if (measured !== null) result.push({ ...one, ...measured });
  }
  return {
    title: `Message that trips an interlock → OFF [ms]`,
    columns: ["p50", "p95", "p99", "max"],
    rows: result.flatMap(rowsOf),
    notes: [
      `aim: p99 at most the bare round trip's + ${AIM_OVER_FLOOR_MS} ms`,
      AS_DEPLOYED,
      "measured one after the other: beside other work, a difference may be negative",
    ],
    result,
  };
}

function rowsOf({ name, floor, trip, receivedPerSecond }) {
  const over = Object.fromEntries(
    ["p50", "p95", "p99", "max"].map((key) => [key, trip[key] - floor[key]]),
  );
  const cells = (figures) =>
    [figures.p50, figures.p95, figures.p99, figures.max].map((ms) => ms.toFixed(2));
  return [
    {
      name: `${name} (${receivedPerSecond.toFixed(0)} received/s, ${trip.count} trips)`,
      cells: [],
    },
    { name: "  bare round trip", cells: cells(floor) },
    { name: "  trip to OFF", cells: cells(trip) },
    { name: "  over the bare round trip", cells: cells(over) },
  ];
}

async function measureCase(one, trips) {
  const floorMs = await withCleanUp((scope) => measureFloor(scope, one, trips));
  const { tripMs, receivedPerSecond } = await withCleanUp((scope) =>
    measureTrips(scope, one, trips),
  );
  if (receivedPerSecond < BUSY_SHARE_MIN * one.perSecond) {
    throw new NotMeasured(`only ${receivedPerSecond.toFixed(0)} messages/s arrived`);
  }
  return { floor: summary(floorMs), trip: summary(tripMs), receivedPerSecond };
}

async function measureFloor(scope, { broker, perSecond, isDeployed }, pings) {
  const at = broker === "embedded" ? await startEmbeddedBroker(scope) : await startMosquitto(scope);
  const topics = ["bench/pong", "bench/there"];
  const { sensor, ear } = await startDevices(scope, at, { topics, child: null });
  const isThere = ear.next("bench/there", { what: "the bare client came", limitMs: ON_WITHIN_MS });
  startBareClient(
    scope,
    at,
    QUICK_OTHERS.map(([topic]) => topic),
    isDeployed ? deployedEnvironment() : {},
  );
  await isThere;
  startChatter(scope, at, { messages: QUICK_OTHERS, perSecond });
  const roundTripsMs = [];
  for (let count = 0; count < WARM_UP + pings; count += 1) {
    await sleep(PING_EVERY_MS);
    const pong = ear.next("bench/pong", { what: "a pong", limitMs: OFF_WITHIN_MS });
    const startMs = performance.now();
    sensor.publish("bench/ping", batteryPayload(TRIP_V), { qos: 1 });
    roundTripsMs.push((await pong).atMs - startMs);
  }
  return roundTripsMs.slice(WARM_UP);
}

/** @param whenReady - Called with the daemon and its port before anything is measured. */
export async function measureTrips(scope, { broker, perSecond, isDeployed, whenReady }, trips) {
  const webPort = await freePort();
  const isEmbedded = broker === "embedded";
  const at = isEmbedded ? embeddedAt(await freePort()) : await startMosquitto(scope);
  const settings = isEmbedded ? { embedded: { port: Number(new URL(at.url).port) } } : at;
  const file = writeQuickSite(scope.folder, { broker: settings, webPort });
  const daemon = startDaemon(scope, file, isDeployed ? deployedEnvironment() : {});
  startChatter(scope, at, { messages: QUICK_OTHERS, perSecond });
  const topics = [COMMAND_TOPIC];
  const { sensor, ear } = await startDevices(scope, at, { topics, child: daemon });
  const tellHealthy = () => sensor.publish(BATTERY_TOPIC, batteryPayload(HEALTHY_V), { qos: 1 });
  await until(() => (tellHealthy(), isReady(webPort)), { child: daemon, what: "ready" });

  await whenReady?.({ daemon, webPort });
  // The load may be on by now: its ON would be waited for in vain.
  sensor.publish(BATTERY_TOPIC, batteryPayload(TRIP_V), { qos: 1 });
  await sleep(2 * QUICK_TICK_MS);
  const before = { count: await receivedCount(webPort), atMs: performance.now() };
  const tripMs = [];
  for (let count = 0; count < WARM_UP + trips; count += 1) {
    const on = ear.next(COMMAND_TOPIC, { what: "an ON", limitMs: ON_WITHIN_MS, payload: "on" });
    tellHealthy();
    await on;
    await sleep(((count * GOLDEN) % 1) * (QUICK_TICK_MS - BEFORE_TICK_MS));
    const off = ear.next(COMMAND_TOPIC, { what: "an OFF", limitMs: OFF_WITHIN_MS, payload: "off" });
    const startMs = performance.now();
    sensor.publish(BATTERY_TOPIC, batteryPayload(TRIP_V), { qos: 1 });
    tripMs.push((await off).atMs - startMs);
  }
  const seconds = (performance.now() - before.atMs) / 1000;
  const receivedPerSecond = ((await receivedCount(webPort)) - before.count) / seconds;
  return { tripMs: tripMs.slice(WARM_UP), receivedPerSecond };
}

/** The two devices; the embedded broker takes its time to come up with the daemon. */
export async function startDevices(scope, at, { topics, child }) {
  const tryAgain = async () => {
    actuator = await startClient(scope, at, topics);
    return actuator !== null;
  };
  let actuator = null;
  await until(tryAgain, { child, what: "the broker listens" });
  return { sensor: await startClient(scope, at, []), ear: createEar(actuator) };
}

/** Hears the next message of a topic, and when it came. */
function createEar(client) {
  const waiting = new Set();
  client.on("message", (topic, payload) => {
    const atMs = performance.now();
    for (const one of waiting) {
      if (one.topic !== topic) continue;
      if (one.payload !== undefined && one.payload !== payload.toString()) continue;
      waiting.delete(one);
      one.resolve({ atMs });
    }
  });
  return {
    next: (topic, { what, limitMs, payload }) =>
      within(limitMs, what, (resolve) => void waiting.add({ topic, payload, resolve })),
  };
}
