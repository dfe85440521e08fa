// What one simulated minute costs. The bare plant runs beside it, so that two machines can be
// compared by ratio.
import { createLocalCalendar } from "../../dist/config/local-calendar.js";
import { loadSite } from "../../dist/config/load.js";
import { step } from "../../dist/service/control/step.js";
import { dayFeed } from "../../dist/simulator/feed.js";
import { createPlant } from "../../dist/simulator/plant/plant.js";
import { plantSettings } from "../../dist/simulator/plant/plant-settings.js";
import { emptyInput, fillInput } from "../../dist/simulator/plant-input.js";
import { replay } from "../../dist/simulator/replay.js";
import { syntheticDay } from "../../dist/simulator/weather/synthetic-day.js";
import { EXAMPLE } from "./site-file.mjs";

const DAYS = 30;
const RUNS = 5;
const START_FRACTION = 0.7;

export function measurePlant() {
  const bench = prepare();
  const timed = [
    { name: "plant alone", run: () => runPlant(bench) },
    { name: "sun and arrays alone", run: () => bench.days.forEach((day) => feedOf(day, bench)) },
    { name: "replay: both, and control", run: () => runReplay(bench) },
  ].map(({ name, run }) => ({ name, nsPerMinute: bestOf(run, bench.minutes) }));
  const plantNs = timed[0].nsPerMinute;
  return {
    title: `Simulated minute: ${DAYS} made-up days, ${bench.minutes} minutes, best of ${RUNS}`,
    columns: ["ns", "× plant"],
    rows: timed.map(({ name, nsPerMinute }) => ({
      name,
      cells: [nsPerMinute.toFixed(0), (nsPerMinute / plantNs).toFixed(1)],
    })),
    notes: [],
    result: timed,
  };
}

function prepare() {
  const site = loadSite({ path: EXAMPLE });
  const settings = plantSettings(site);
  const days = Array.from({ length: DAYS }, (_, index) =>
    syntheticDay({
      site,
      localDate: `2026-06-${String(index + 1).padStart(2, "0")}`,
      seed: index,
      kind: ["clear", "broken", "overcast"][index % 3],
    }),
  );
  const bench = { site, settings, days, calendar: createLocalCalendar(site.timeZone) };
  const minutes = days.reduce((sum, day) => sum + day.timesMs.length, 0);
  return { ...bench, minutes, feeds: days.map((day) => feedOf(day, bench)) };
}

/** Fastest of several runs: the others were disturbed. [ns per simulated minute] */
function bestOf(run, minutes) {
  let best = Infinity;
  for (let i = 0; i < RUNS; i += 1) {
    const startMs = performance.now();
    run();
    best = Math.min(best, ((performance.now() - startMs) * 1e6) / minutes);
  }
  return best;
}

function feedOf(day, { site, settings }) {
  const { latitudeDeg, longitudeDeg } = site.control;
  const sitePlace = { latitudeDeg, longitudeDeg };
  return dayFeed(day, { plant: settings, sitePlace, mayBridge: false });
}

function runPlant({ settings, feeds }) {
  const plant = createPlant(settings, START_FRACTION);
  const input = emptyInput(settings);
  for (const feed of feeds) {
    for (let row = 0; row < feed.timesMs.length; row += 1) {
      fillInput(feed, row, input);
      plant.step(60, input);
    }
  }
}

function runReplay({ site, days, calendar }) {
  replay({
    site,
    days,
    step,
    calendar,
    stepS: 60,
    startFraction: START_FRACTION,
    mayBridge: false,
    plant: null,
    onDecision: null,
  });
}
