// A simulated hour of telemetry and ticks in this process, with the garbage collected before each
// sample: `node --expose-gc table-hour.mjs`. Prints the slopes of heap and resident memory.
import { initialMemory } from "../../dist/service/control/memory.js";
import { step } from "../../dist/service/control/step.js";
import { readObservation } from "../../dist/service/telemetry/observe.js";
import { batteryPayload, BATTERY_TOPIC, EXAMPLE_ALL } from "./site-file.mjs";
import { createTable } from "./table.mjs";

const HOUR_MS = 3_600_000;
const WARM_UP_MS = 7_200_000;
const SAMPLE_MS = 300_000;
const PER_SECOND = 500;
const MS_PER_DAY = 86_400_000;
const NOON_MS = Date.UTC(2026, 5, 15, 10);
const MB = 1_048_576;

let nowMs = 0;
const { site, table } = createTable(
  () => nowMs,
  () => NOON_MS + nowMs,
);
const { control } = site;
const encoder = new TextEncoder();
const others = EXAMPLE_ALL.filter(([topic]) => topic !== BATTERY_TOPIC);
let memory = initialMemory(control, nowMs);
let messages = 0;

const NO_REQUEST = { request: "none", forMs: 0 };

/** Every message is made anew, as it comes from a socket; some topics and payloads are odd. */
function speak(count) {
  for (let index = 0; index < count; index += 1) {
    messages += 1;
    const turn = messages % 10;
    const [topic, text] =
      turn < 4
        ? [BATTERY_TOPIC, batteryPayload(54 + (messages % 100) / 100)]
        : turn === 9
          ? [`stranger/${messages % 5_000}`, "{"]
          : others[messages % others.length];
    table.receive({ topic, payload: encoder.encode(text), isRetained: false });
  }
}

function tick() {
  const wallMs = NOON_MS + nowMs;
  const observation = readObservation(table, control, {
    monotonicMs: nowMs,
    wallMs,
    isWallClockPlausible: true,
    localDay: Math.floor(wallMs / MS_PER_DAY),
    localMinute: Math.floor((wallMs % MS_PER_DAY) / 60_000),
    isBrokerConnected: true,
    loadRequest: () => NO_REQUEST,
    panelRequest: () => "none",
    unlearn: "none",
  });
  ({ memory } = step(memory, observation, control));
}

function sample() {
  globalThis.gc();
  globalThis.gc();
  const { heapUsed, rss } = process.memoryUsage();
  return { hours: nowMs / HOUR_MS, heapMb: heapUsed / MB, residentMb: rss / MB };
}

/** Least squares. [MB/h] */
function slope(samples, key) {
  const mean = (of) => samples.reduce((sum, one) => sum + one[of], 0) / samples.length;
  const [hours, size] = [mean("hours"), mean(key)];
  const over = samples.reduce((sum, one) => sum + (one.hours - hours) * (one[key] - size), 0);
  return over / samples.reduce((sum, one) => sum + (one.hours - hours) ** 2, 0);
}

const samples = [];
while (nowMs < WARM_UP_MS + HOUR_MS) {
  nowMs += control.tickMs;
  speak((PER_SECOND * control.tickMs) / 1000);
  tick();
  if (nowMs >= WARM_UP_MS && nowMs % SAMPLE_MS === 0) samples.push(sample());
}
console.log(
  JSON.stringify({
    messages,
    samples: samples.length,
    heapMb: samples[0].heapMb,
    heapSlopeMbPerH: slope(samples, "heapMb"),
    residentSlopeMbPerH: slope(samples, "residentMb"),
  }),
);
