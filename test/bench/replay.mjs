// What a replayed minute costs beside the bare plant, whether memory grows with the number of days,
// and what the other cores are worth.
import { availableParallelism } from "node:os";
import { setFlagsFromString } from "node:v8";
import { runInNewContext } from "node:vm";
import { Worker } from "node:worker_threads";
import { createLocalCalendar } from "../../dist/config/local-calendar.js";
import { loadSite } from "../../dist/config/load.js";
import { step } from "../../dist/service/control/step.js";
import { dayFeed } from "../../dist/simulator/feed.js";
import { createPlant } from "../../dist/simulator/plant/plant.js";
import { plantSettings } from "../../dist/simulator/plant/plant-settings.js";
import { emptyInput, fillInput } from "../../dist/simulator/plant-input.js";
import { replay } from "../../dist/simulator/replay.js";
import { runTrials } from "../../dist/simulator/trials.js";
import { syntheticDay } from "../../dist/simulator/weather/synthetic-day.js";
import { EXAMPLE } from "./site-file.mjs";

const DAYS = 60;
const RUNS = 5;
const MINUTES_PER_YEAR = 525_600;
const DAY_MS = 86_400_000;
/** So many that the time in which each thread grows warm does not count for much. */
const TRIALS = 12;
const OUTLOOK = "ruleCurve={ mode: outlook, caution: 80 % }";
/** Threads that only count are this much faster than one, at least, if nobody else is at work. */
const QUIET_PER_CORE = 0.95;
const AIM = { yearS: 0.5, acceptableYearS: 1, timesAsFast: 1.8 };

export async function measureReplay(_options, { say }) {
  const sites = { fixed: loadSite({ path: EXAMPLE }) };
  sites.outlook = loadSite({ path: EXAMPLE, overrides: [OUTLOOK] });
  const days = Array.from(daysOf(sites.fixed, DAYS));
  const minutes = days.reduce((sum, day) => sum + day.timesMs.length, 0);
  const nsOf = (run) => (bestUs(run) * 1000) / minutes;
  say("replay: the plant, and both rule curves");
  const plantNs = nsOf(() => runPlant(sites.fixed, days));
  const bareNs = barePlantNs(sites.fixed, days, minutes);
  const replays = Object.entries(sites).map(([name, site]) => {
    const ns = nsOf(() => runReplay(site, days));
    return { name, ns, yearS: (ns * MINUTES_PER_YEAR) / 1e9 };
  });
  say("replay: memory");
  const heaps = [30, 120, 480].map((count) => ({ count, mb: heapAfter(sites.outlook, count) }));
  say("replay: threads");
  const cores = availableParallelism();
  const free = await freeCores(cores);
  const one = await trialsS(sites.outlook, days, 1);
  const all = await trialsS(sites.outlook, days, cores);
  const isQuiet = free >= QUIET_PER_CORE * cores;
  const cells = [
    ["plant alone, ns a minute", bareNs.toFixed(0)],
    ["plant, sun and arrays, ns a minute", plantNs.toFixed(0)],
    ...replays.flatMap(({ name, ns, yearS }) => [
      [`replay, ${name}: ns a minute`, ns.toFixed(0)],
      ["  times the plant alone", (ns / bareNs).toFixed(1)],
      ["  a site-year of minutes, s", yearS.toFixed(2)],
    ]),
    ...heaps.map(({ count, mb }) => [`held after ${count} days, MB`, mb.toFixed(1)]),
    [`${TRIALS} trials, one thread, s`, one.wallS.toFixed(2)],
    [`${TRIALS} trials, ${cores} threads, s`, all.wallS.toFixed(2)],
    ["  times as fast", (one.wallS / all.wallS).toFixed(2)],
    ["  …by the processor's time", ((cores * one.cpuS) / all.cpuS).toFixed(2)],
    [`of ${cores} cores were free`, free.toFixed(2)],
  ];
  return {
    title: `Replay: ${DAYS} made-up days, three loads, processor's time, best of ${RUNS}`,
    columns: ["figure"],
    rows: cells.map(([name, figure]) => ({ name, cells: [figure] })),
    notes: [
      `aims: a site-year in ${AIM.yearS} s (${AIM.acceptableYearS} s will do), ` +
        `${AIM.timesAsFast} times as fast on 2 cores`,
      ...(isQuiet
        ? []
        : ["NOISY: other programs were at work; what threads are worth is not to be seen here"]),
    ],
    result: { bareNs, plantNs, replays, heaps, one, all, cores, free, isQuiet },
  };
}

/** How many threads that only count get done at once what one does alone. [cores] */
async function freeCores(cores) {
  const count =
    'const { parentPort } = require("node:worker_threads"); let x = 0;' +
    "for (let i = 0; i < 4e8; i += 1) x = (x + i) % 1009; parentPort.postMessage(x);";
  const takesS = async (threads) => {
    const startMs = performance.now();
    const ends = Array.from({ length: threads }, () => {
      const worker = new Worker(count, { eval: true });
      return new Promise((resolve, reject) => worker.on("exit", resolve).on("error", reject));
    });
    await Promise.all(ends);
    return (performance.now() - startMs) / 1000;
  };
  const alone = [];
  const together = [];
  for (let i = 0; i < 3; i += 1) {
    alone.push(await takesS(1));
    together.push(await takesS(cores));
  }
  return (cores * Math.min(...alone)) / Math.min(...together);
}

function* daysOf(site, count) {
  for (let i = 0; i < count; i += 1) {
    const localDate = new Date(Date.UTC(2026, 3, 1) + i * DAY_MS).toISOString().slice(0, 10);
    const kind = ["clear", "broken", "overcast"][i % 3];
    yield syntheticDay({ site, localDate, seed: i, kind });
  }
}

/** Least of several runs, in time of the processor: what others take of it does not count. [µs] */
function bestUs(run) {
  let best = Infinity;
  for (let i = 0; i < RUNS; i += 1) {
    const before = process.cpuUsage();
    run();
    best = Math.min(best, cpuUs(before));
  }
  return best;
}

/** Of all threads of this process. [µs] */
function cpuUs(before) {
  const { user, system } = process.cpuUsage(before);
  return user + system;
}

/** By the engine's own collector, which is there without a flag on the command line. */
function collectGarbage() {
  setFlagsFromString("--expose-gc");
  runInNewContext("gc")();
}

/** What is still held after the run, its days made one by one and let go. [MB] */
function heapAfter(site, count) {
  const report = runReplay(site, daysOf(site, count));
  collectGarbage();
  const { heapUsed, arrayBuffers } = process.memoryUsage();
  return report.days === count ? (heapUsed + arrayBuffers) / 1e6 : NaN;
}

async function trialsS(site, days, workersMax) {
  const sites = Array.from({ length: TRIALS }, () => site);
  const input = { days, stepS: 60, startFraction: 0.7, mayBridge: false, changes: null };
  const best = { wallS: Infinity, cpuS: Infinity };
  for (let i = 0; i < 2; i += 1) {
    const startMs = performance.now();
    const before = process.cpuUsage();
    await runTrials(sites, input, { workersMax, onProgress: () => undefined });
    best.wallS = Math.min(best.wallS, (performance.now() - startMs) / 1000);
    best.cpuS = Math.min(best.cpuS, cpuUs(before) / 1e6);
  }
  return best;
}

/** Weather worked out beforehand. [ns a minute] */
function barePlantNs(site, days, minutes) {
  const settings = plantSettings(site);
  const feeds = days.map((day) => feedOf(day, { site, settings }));
  const run = () => {
    const plant = createPlant(settings, 0.7);
    const input = emptyInput(settings);
    for (const feed of feeds) {
      for (let row = 0; row < feed.timesMs.length; row += 1) {
        fillInput(feed, row, input);
        plant.step(60, input);
      }
    }
  };
  return (bestUs(run) * 1000) / minutes;
}

function feedOf(day, { site, settings }) {
  const { latitudeDeg, longitudeDeg } = site.control;
  const sitePlace = { latitudeDeg, longitudeDeg };
  return dayFeed(day, { plant: settings, sitePlace, mayBridge: false });
}

function runPlant(site, days) {
  const settings = plantSettings(site);
  const plant = createPlant(settings, 0.7);
  const input = emptyInput(settings);
  for (const day of days) {
    const feed = feedOf(day, { site, settings });
    for (let row = 0; row < feed.timesMs.length; row += 1) {
      fillInput(feed, row, input);
      plant.step(60, input);
    }
  }
}

function runReplay(site, days) {
  return replay({
    site,
    days,
    step,
    calendar: createLocalCalendar(site.timeZone),
    stepS: 60,
    startFraction: 0.7,
    mayBridge: false,
    plant: null,
    onDecision: null,
  });
}
