// `npm run bench`: timings and sizes. Never part of the tests: a busy machine is slow, not wrong.
// Ends with 1 only if something could not be measured at all.
import { writeFileSync } from "node:fs";
import { cpus, loadavg, totalmem } from "node:os";
import { parseArgs } from "node:util";
import { measureDashboards } from "./dashboards.mjs";
import { measureHistory } from "./history.mjs";
import { measureLatency } from "./latency.mjs";
import { measureMemory } from "./memory.mjs";
import { measurePlant } from "./plant.mjs";
import { measurePage } from "./page.mjs";
import { measurePaint } from "./paint.mjs";
import { NotMeasured } from "./processes.mjs";
import { measureReplay } from "./replay.mjs";
import { printTable } from "./report.mjs";
import { measureStart } from "./start.mjs";
import { measureTelemetry } from "./telemetry.mjs";

const USAGE = `npm run bench -- [PART...] [--trips N] [--starts N] [--minutes M] [--seconds S]
                            [--json FILE]

Parts (all of them without any; about 40 minutes):
  plant     what a simulated minute costs
  replay    a replayed minute over the bare plant, fixed and outlook, memory by
            days, and what all cores are worth
  start     spawn to ready, --starts 10 a broker
  latency   tripping message to OFF, --trips 200 a busy case, 50 an idle one
  memory    resident memory after --minutes 10
  history   what a day of ticks writes to the disk, and what a tick pays for it
  telemetry 5,000 messages/s for --seconds 60, most that the table takes, an hour in memory
  dashboards the same trip to OFF with 0 and 20 dashboards open, a quarter of --trips
  page      message on the broker to the open page, a quarter of --trips a case
  paint     first paint of the page on a slow phone, --starts 10 cold loads a profile
Needs mosquitto in PATH or /usr/sbin, or in MOSQUITTO; Linux for memory,
history and dashboards; Chromium, or CHROMIUM, for page and paint.`;

const PARTS = {
  plant: measurePlant,
  replay: measureReplay,
  start: measureStart,
  latency: measureLatency,
  memory: measureMemory,
  history: measureHistory,
  telemetry: measureTelemetry,
  dashboards: measureDashboards,
  page: measurePage,
  paint: measurePaint,
};

process.exitCode = await main(process.argv.slice(2));

async function main(args) {
  const wanted = readArguments(args);
  if (wanted === null) {
    console.log(USAGE);
    return 2;
  }
  const { parts, json, ...options } = wanted;
  const failures = [];
  /** A case that can't be measured must not keep the others from it. */
  const attempt = async (name, measure) => {
    try {
      return await measure();
    } catch (error) {
      if (!(error instanceof NotMeasured)) throw error;
      failures.push(`${name}: ${error.message}`);
      return null;
    }
  };
  const say = (text) => console.error(`${new Date().toTimeString().slice(0, 8)} ${text}`);
  const machine = {
    node: process.version,
    cores: cpus().length,
    memoryMb: totalmem() / 1048576,
    loadAverage: loadavg()[0],
  };
  console.log(
    `Node ${machine.node}, ${machine.cores} cores, ${machine.memoryMb.toFixed(0)} MB, ` +
      `${process.platform} ${process.arch}, load average ${machine.loadAverage.toFixed(2)}`,
  );
  const results = {};
  for (const part of parts) {
    const table = await PARTS[part](options, { say, attempt });
    printTable(table);
    results[part] = table.result;
  }
  for (const failure of failures) console.log(`\nNOT MEASURED ${failure}`);
  if (json !== undefined) {
    writeFileSync(json, `${JSON.stringify({ machine, ...results, failures }, null, 2)}\n`);
  }
  return failures.length === 0 ? 0 : 1;
}

/** @returns null if they can't be understood. */
function readArguments(args) {
  const options = {
    trips: { type: "string", default: "200" },
    starts: { type: "string", default: "10" },
    minutes: { type: "string", default: "10" },
    seconds: { type: "string", default: "60" },
    json: { type: "string" },
    help: { type: "boolean", default: false },
  };
  let parsed;
  try {
    parsed = parseArgs({ args, options, allowPositionals: true });
  } catch (error) {
    console.log(error.message);
    return null;
  }
  const { values, positionals } = parsed;
  const [trips, starts, minutes] = [values.trips, values.starts, values.minutes].map(Number);
  const seconds = Number(values.seconds);
  const areCounts = [trips, starts].every((count) => Number.isInteger(count) && count > 0);
  if (values.help || !areCounts || !(minutes > 0) || !(seconds > 0)) return null;
  if (positionals.some((part) => !Object.hasOwn(PARTS, part))) return null;
  const parts = positionals.length === 0 ? Object.keys(PARTS) : positionals;
  return { parts, trips, starts, minutes, seconds, json: values.json };
}
