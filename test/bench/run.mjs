// `npm run bench`: what one simulated minute costs. Never part of the tests: a busy machine is
// slow, not wrong. The bare plant runs beside it, so that two machines can be compared by ratio.
import { createLocalCalendar } from "../../dist/config/local-calendar.js";
import { loadSite } from "../../dist/config/load.js";
import { step } from "../../dist/service/control/step.js";
import { dayFeed } from "../../dist/simulator/feed.js";
import { createPlant } from "../../dist/simulator/plant/plant.js";
import { plantSettings } from "../../dist/simulator/plant/plant-settings.js";
import { emptyInput, fillInput } from "../../dist/simulator/plant-input.js";
import { replay } from "../../dist/simulator/replay.js";
import { syntheticDay } from "../../dist/simulator/weather/synthetic-day.js";

const DAYS = 30;
const RUNS = 5;
const START_FRACTION = 0.7;

const site = loadSite({ path: "config/examples/malga.yaml" });
const calendar = createLocalCalendar(site.timeZone);
const settings = plantSettings(site);
const { latitudeDeg, longitudeDeg } = site.control;
const days = Array.from({ length: DAYS }, (_, index) =>
  syntheticDay({
    site,
    localDate: `2026-06-${String(index + 1).padStart(2, "0")}`,
    seed: index,
    kind: ["clear", "broken", "overcast"][index % 3],
  }),
);
const minutes = days.reduce((sum, day) => sum + day.timesMs.length, 0);

const feeds = days.map(feedOf);

const results = [
  { name: "plant alone", ns: bestOf(runPlant) },
  { name: "sun and arrays alone", ns: bestOf(() => days.forEach(feedOf)) },
  { name: "replay: both, and control", ns: bestOf(runReplay) },
];
console.log(`${DAYS} made-up days, ${minutes} minutes, best of ${RUNS}, Node ${process.version}`);
for (const { name, ns } of results) {
  const ratio = (ns / results[0].ns).toFixed(1);
  console.log(
    `${name.padEnd(26)} ${ns.toFixed(0).padStart(6)} ns per simulated minute, × ${ratio}`,
  );
}

/** Fastest of several runs: the others were disturbed. [ns per simulated minute] */
function bestOf(run) {
  let best = Infinity;
  for (let i = 0; i < RUNS; i += 1) {
    const startMs = performance.now();
    run();
    best = Math.min(best, ((performance.now() - startMs) * 1e6) / minutes);
  }
  return best;
}

function feedOf(day) {
  const sitePlace = { latitudeDeg, longitudeDeg };
  return dayFeed(day, { plant: settings, sitePlace, mayBridge: false });
}

function runPlant() {
  const plant = createPlant(settings, START_FRACTION);
  const input = emptyInput(settings);
  for (const feed of feeds) {
    for (let row = 0; row < feed.timesMs.length; row += 1) {
      fillInput(feed, row, input);
      plant.step(60, input);
    }
  }
}

function runReplay() {
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
