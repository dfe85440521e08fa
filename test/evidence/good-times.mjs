// `node test/evidence/good-times.mjs --data DIR [--days N]` after a build: how often a start that
// was called good turned out so. By day the service is asked at every full hour about one
// appliance; what it says is held against what sun and use then really brought: the battery is
// carried on from its true charge with and without the appliance, other loads off, to the next
// sunset. It is to stay above the floor all the way, and to be where its owner wants it at sunset.
import { parseArgs } from "node:util";
import { createLocalCalendar } from "../../dist/config/local-calendar.js";
import { advance } from "../../dist/service/control/guidance/course.js";
import { confidenceIn, guidanceOf } from "../../dist/service/control/guidance/guidance.js";
import { CONFIDENCE_CODES } from "../../dist/service/control/guidance/guidance-codes.js";
import { curveBattery } from "../../dist/service/control/outlook/plan.js";
import { step } from "../../dist/service/control/step.js";
import { plantOf, readPlantChanges } from "../../dist/simulator/plant/plant-changes.js";
import { replay } from "../../dist/simulator/replay.js";
import { siteFor } from "./policies.mjs";
import { pathOf, readProtocol } from "./protocol.mjs";
import { daysOf } from "./weather-year.mjs";

const MINUTE_MS = 60_000;
const STEP_MS = 600_000;
const DAY_MS = 86_400_000;
const APPLIANCE = {
  id: "washer",
  label: "Washing machine",
  profile: [
    { powerW: 2100, forMs: 20 * MINUTE_MS },
    { powerW: 250, forMs: 60 * MINUTE_MS },
  ],
  latestFinishMinute: null,
  windows: [],
};

const { values } = parseArgs({
  options: {
    data: { type: "string" },
    days: { type: "string", default: "365" },
    /** The station on which the confidence may be fitted, instead of the scored ones. */
    development: { type: "boolean", default: false },
  },
});
const protocol = readProtocol();
const years = values.development ? protocol.develop : protocol.score;
const { refineSeeds, householdSeeds } = years;
for (const site of protocol.sites) {
  for (const station of years.data) {
    const year = {
      station,
      folder: values.data,
      seed: refineSeeds[0],
      household: householdSeeds[0],
    };
    const days = (await daysOf(protocol, year)).slice(0, Number(values.days));
    tell(`${site.id}/${station}`, judged(lived(site, days)));
  }
}

/** The year as the service lives it: what it would have been asked, and what really came. */
function lived(site, days) {
  const settings = siteFor(protocol, site, protocol.policies.c.set);
  const { control } = settings;
  const { efficiencyFraction, idleW } = control.inverter;
  const calendar = createLocalCalendar(settings.timeZone);
  const asked = [];
  const cameW = new Map();
  let last = null;
  replay({
    site: settings,
    days,
    calendar,
    stepS: protocol.stepS,
    startFraction: protocol.startFraction,
    mayBridge: true,
    plant: plantOf(settings, readPlantChanges(pathOf(site.plant))),
    step: (memory, observation, now) => {
      last = step(memory, observation, now);
      return last;
    },
    onDecision: (decision, observation) => {
      const { localMinute } = observation;
      const isAsked = localMinute % 60 === 0 && decision.site.isDaylight === true;
      if (isAsked) asked.push(question(last, observation, control));
    },
    onStep: ({ wallMs, truth }) => {
      const at = Math.floor(wallMs / STEP_MS);
      const sum = cameW.get(at) ?? { netW: 0, count: 0, socFraction: truth.socFraction };
      sum.netW += truth.potentialW - truth.baseAcW / efficiencyFraction - idleW;
      sum.count += 1;
      cameW.set(at, sum);
    },
  });
  return { asked, cameW, control };

  /** Worked out at once: memory goes on, and the observation is filled anew. */
  function question({ memory, decision }, observation, settingsNow) {
    const input = {
      memory,
      observation,
      site: decision.site,
      settings: settingsNow,
      appliances: [APPLIANCE],
      localTimeAt: clockOf(observation),
    };
    const { refusal, advice } = guidanceOf(input);
    const now = refusal === null ? advice[0].now : null;
    const { today } = memory.outlook.clearDays ?? { today: { sunsetMs: null } };
    return {
      wallMs: observation.wallMs,
      sunsetMs: today.sunsetMs,
      now,
      confidence: now === null ? null : confidenceIn(now, input),
      battery: curveBattery(control.battery, memory.outlook),
    };
  }
}

/** The record's own clock, by which everyday use was learned; not that of the site's zone. */
function clockOf({ wallMs, localDay, localMinute }) {
  const aheadMs = localDay * DAY_MS + localMinute * MINUTE_MS - wallMs;
  return (atMs) => {
    const localMs = atMs + aheadMs;
    const day = Math.floor(localMs / DAY_MS);
    return { localDay: day, localMinute: Math.floor((localMs - day * DAY_MS) / MINUTE_MS) };
  };
}

function judged({ asked, cameW, control }) {
  return asked.flatMap((one) => {
    if (one.now === null || one.sunsetMs === null || one.wallMs >= one.sunsetMs) return [];
    const withIt = holds(one, { cameW, control, isOn: true });
    const without = holds(one, { cameW, control, isOn: false });
    if (withIt === null || without === null) return [];
    return [{ ...one, outcome: withIt ? "kept" : without ? "lost" : "short" }];
  });
}

/** null: the record ends before sunset. */
function holds({ wallMs, sunsetMs, battery }, { cameW, control, isOn }) {
  const from = Math.floor(wallMs / STEP_MS);
  const to = Math.ceil(sunsetMs / STEP_MS);
  const { floorFraction, sunsetTargetFraction } = control.battery;
  const netW = [];
  for (let at = from; at < to; at += 1) {
    const came = cameW.get(at);
    if (came === undefined) return null;
    netW.push(came.netW / came.count);
  }
  const nobody = netW.map(() => false);
  const side = { netW, curve: [], loadsDownTo: [] };
  const prospect = { battery, isDay: nobody, tomorrowStep: -1, loadsW: { today: 0, tomorrow: 0 } };
  const state = { socFraction: cameW.get(from).socFraction, wantWh: 0, loadsWh: 0 };
  for (let at = 0; at < netW.length; at += 1) {
    const powerW = isOn ? drawnW(at) / control.inverter.efficiencyFraction : 0;
    advance(state, { step: at, powerW }, { side, prospect });
    if (state.socFraction < floorFraction) return false;
  }
  return state.socFraction >= sunsetTargetFraction;
}

/** AC, the mean over a step of the run. */
function drawnW(at) {
  let beginMs = 0;
  let sum = 0;
  for (const { powerW, forMs } of APPLIANCE.profile) {
    const insideMs =
      Math.min(beginMs + forMs, (at + 1) * STEP_MS) - Math.max(beginMs, at * STEP_MS);
    sum += (powerW * Math.max(0, insideMs)) / STEP_MS;
    beginMs += forMs;
  }
  return sum;
}

function tell(name, all) {
  console.log(`${name}: ${all.length} hours of daylight asked about`);
  const level = ({ confidence }) => (confidence === null ? "" : CONFIDENCE_CODES[confidence].level);
  for (const [label, some] of [
    ["good", all.filter(({ now }) => now.grade === "good")],
    ["good, high", all.filter((one) => one.now.grade === "good" && level(one) === "high")],
    ["good, fair", all.filter((one) => one.now.grade === "good" && level(one) === "fair")],
    ["so-so", all.filter(({ now }) => now.grade === "so-so")],
    ["costly", all.filter(({ now }) => now.grade === "costly")],
    ["any", all],
  ]) {
    const share = (outcome) => {
      const count = some.filter((one) => one.outcome === outcome).length;
      return some.length === 0 ? "-" : `${((100 * count) / some.length).toFixed(1)} %`;
    };
    const figures = `kept ${share("kept")}, lost ${share("lost")}, short anyway ${share("short")}`;
    console.log(`  ${label.padEnd(10)} ${String(some.length).padStart(5)}  ${figures}`);
  }
}
