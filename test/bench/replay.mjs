// What a replayed minute costs beside the bare plant, whether memory grows with the number of days,
// and what the second core is worth.
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
const TRIALS = 4;

export async function measureReplay() {
  const site = loadSite({ path: EXAMPLE });
  const days = Array.from(daysOf(site, DAYS));
  const minutes = days.reduce((sum, day) => sum + day.timesMs.length, 0);
  const plantUs = bestUs(() => runPlant(site, days)) / minutes;
  const replayUs = bestUs(() => runReplay(site, days)) / minutes;
  const [shortMb, longMb] = [heapAfter(site, 30), heapAfter(site, 120)];
  const oneS = await trialsS(site, days, 1);
  const allS = await trialsS(site, days, TRIALS);
  const cells = [
    ["plant alone, µs a step", plantUs.toFixed(2)],
    ["replay, µs a step", replayUs.toFixed(2)],
    ["replay over plant", (replayUs / plantUs).toFixed(1)],
    ["a year of minutes, s", ((replayUs * MINUTES_PER_YEAR) / 1e6).toFixed(2)],
    ["heap after 30 days, MB", shortMb.toFixed(1)],
    ["heap after 120 days, MB", longMb.toFixed(1)],
    [`${TRIALS} trials in one thread, s`, oneS.toFixed(2)],
    [`${TRIALS} trials on all cores, s`, allS.toFixed(2)],
    ["times as fast", (oneS / allS).toFixed(2)],
  ];
  return {
    title: `Replay: ${DAYS} made-up days, three loads, best of ${RUNS}`,
    columns: ["figure"],
    rows: cells.map(([name, figure]) => ({ name, cells: [figure] })),
    notes: [],
    result: { plantUs, replayUs, shortMb, longMb, oneS, allS },
  };
}

function* daysOf(site, count) {
  for (let i = 0; i < count; i += 1) {
    const localDate = new Date(Date.UTC(2026, 3, 1) + i * DAY_MS).toISOString().slice(0, 10);
    const kind = ["clear", "broken", "overcast"][i % 3];
    yield syntheticDay({ site, localDate, seed: i, kind });
  }
}

/** Fastest of several runs: the others were disturbed. [µs] */
function bestUs(run) {
  let best = Infinity;
  for (let i = 0; i < RUNS; i += 1) {
    const startMs = performance.now();
    run();
    best = Math.min(best, (performance.now() - startMs) * 1000);
  }
  return best;
}

/** What is still held after the run, its days made one by one and let go. [MB] */
function heapAfter(site, count) {
  const report = runReplay(site, daysOf(site, count));
  globalThis.gc?.();
  const { heapUsed, arrayBuffers } = process.memoryUsage();
  return report.days === count ? (heapUsed + arrayBuffers) / 1e6 : NaN;
}

async function trialsS(site, days, workersMax) {
  const sites = Array.from({ length: TRIALS }, () => site);
  const input = { days, stepS: 60, startFraction: 0.7, mayBridge: false, changes: null };
  let best = Infinity;
  for (let i = 0; i < 3; i += 1) {
    const startMs = performance.now();
    await runTrials(sites, input, { workersMax, onProgress: () => undefined });
    best = Math.min(best, (performance.now() - startMs) / 1000);
  }
  return best;
}

function runPlant(site, days) {
  const settings = plantSettings(site);
  const { latitudeDeg, longitudeDeg } = site.control;
  const plant = createPlant(settings, 0.7);
  const input = emptyInput(settings);
  for (const day of days) {
    const sitePlace = { latitudeDeg, longitudeDeg };
    const feed = dayFeed(day, { plant: settings, sitePlace, mayBridge: false });
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
