// `node test/evidence/good-times.mjs --data DIR [--days N]` after a build: how often a start that
// was called good turned out so. By day the service is asked at every full hour about one
// appliance; what it says is held against what sun and use then really brought: the battery is
// carried on from its true charge with and without the appliance, other loads off, to the next
// sunset. It is to stay above the floor all the way, and to be where its owner wants it at sunset.
import { parseArgs } from "node:util";
import { createLocalCalendar } from "../../dist/config/local-calendar.js";
import { advance } from "../../dist/service/control/guidance/course.js";
import { confidenceIn, guidanceOf } from "../../dist/service/control/guidance/guidance.js";
import { timesSaid } from "../../dist/service/control/guidance/say-times.js";
import { KINDS } from "../../dist/service/control/guidance/time-kinds.js";
import { lookAgain, NO_TIMES } from "../../dist/service/control/guidance/times-record.js";
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

const isGood = ({ start }) => start.grade === "good";
const WORDS = [
  ["good", isGood],
  ["good, _high_", (one) => isGood(one) && one.level === "high"],
  ["good, _fair_", (one) => isGood(one) && one.level === "fair"],
  ["good, _low_", (one) => isGood(one) && one.level === "low"],
  ["so-so", ({ start }) => start.grade === "so-so"],
  ["costly", ({ start }) => start.grade === "costly"],
];

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
const everything = [];
for (const site of protocol.sites) {
  for (const station of years.data) {
    const year = {
      station,
      folder: values.data,
      seed: refineSeeds[0],
      household: householdSeeds[0],
    };
    const days = (await daysOf(protocol, year)).slice(0, Number(values.days));
    const life = lived(site, days);
    const all = judged(life);
    tell(`${site.id}, ${station}`, all);
    tellLearned(life);
    everything.push(...all);
  }
}
tell("all of them", everything);

/** The year as the service lives it: what it would have been asked, and what really came. */
function lived(site, days) {
  const settings = siteFor(protocol, site, protocol.policies.c.set);
  const { control } = settings;
  const { efficiencyFraction, idleW } = control.inverter;
  const calendar = createLocalCalendar(settings.timeZone);
  const asked = [];
  const cameW = new Map();
  let last = null;
  let times = NO_TIMES;
  const learnedFrom = [];
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
      const { acceptance } = last.memory.outlook;
      const before = times.days;
      times = lookAgain(times, { observation, site: decision.site, settings: control, acceptance });
      if (times.days !== before) learnedFrom.push(gained(before, times));
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
  return { asked, cameW, control, learnedFrom };

  /** Worked out at once: memory goes on, and the observation is filled anew. */
  function question({ memory, decision }, observation, settingsNow) {
    const input = {
      memory,
      observation,
      site: decision.site,
      settings: settingsNow,
      appliances: [APPLIANCE],
      localTimeAt: clockOf(observation),
      times,
    };
    const guidance = guidanceOf(input);
    const { refusal, advice } = guidance;
    if (refusal !== null) return [];
    times = timesSaid(times, guidance, input);
    const { wallMs } = observation;
    const common = { wallMs, battery: curveBattery(control.battery, memory.outlook) };
    return saidIn(advice[0], observation, memory.outlook.clearDays).map((one) => {
      const code = confidenceIn(one.start, one.startMs, input);
      return { ...common, ...one, level: code === null ? null : CONFIDENCE_CODES[code].level };
    });
  }
}

/** What the service itself made of a day, by kind; what fades is added back. */
function gained(before, { days }) {
  return days.map(({ said, kept }, kind) => {
    const share = said > before[kind].said ? (said - 1) / (before[kind].said || 1) : null;
    return share === null ? null : kept - before[kind].kept * share;
  });
}

/** Of a start now, whatever it is; of the best later today and tomorrow, if one is good. */
function saidIn({ now, days }, { wallMs, localDay }, { today, tomorrow }) {
  const said = [{ horizon: "now", start: now, startMs: wallMs, sunsetMs: today.sunsetMs }];
  for (const { localDay: day, best } of days) {
    if (best === null || best.atMs <= wallMs) continue;
    const isToday = day === localDay;
    const horizon = isToday ? "later" : "tomorrow";
    const { sunsetMs } = isToday ? today : tomorrow;
    said.push({ horizon, start: best.start, startMs: best.atMs, sunsetMs });
  }
  return said.filter(({ startMs, sunsetMs }) => sunsetMs !== null && startMs < sunsetMs);
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
  return asked.flat().flatMap((one) => {
    const withIt = holds(one, { cameW, control, isOn: true });
    const without = holds(one, { cameW, control, isOn: false });
    if (withIt === null || without === null) return [];
    return [{ ...one, outcome: withIt ? "kept" : without ? "lost" : "short" }];
  });
}

/** null: the record ends before sunset. */
function holds({ startMs, sunsetMs, battery }, { cameW, control, isOn }) {
  const from = Math.floor(startMs / STEP_MS);
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

/** As a table of docs/guidance.md. */
function tell(name, all) {
  for (const horizon of ["now", "later", "tomorrow"]) {
    const some = all.filter((one) => one.horizon === horizon);
    for (const [label, isOne] of WORDS) {
      const ones = some.filter(isOne);
      if (ones.length === 0) continue;
      const share = (outcome) => {
        const count = ones.filter((one) => one.outcome === outcome).length;
        return `${((100 * count) / ones.length).toFixed(1)} %`;
      };
      const figures = ["kept", "lost", "short"].map(share).join(" | ");
      console.log(`| ${name} | ${horizon} | ${label} | ${ones.length} | ${figures} |`);
    }
  }
}

/** What the service itself found: its record rests on this. */
function tellLearned({ learnedFrom }) {
  for (const [kind, { horizon, holdsInDoubt }] of KINDS.entries()) {
    const days = learnedFrom.map((gains) => gains[kind]).filter((gain) => gain !== null);
    const kept = days.reduce((sum, gain) => sum + gain, 0);
    const name = `${horizon}, ${holdsInDoubt ? "in doubt, too" : "cautious"}`;
    const share = days.length === 0 ? "-" : `${((100 * kept) / days.length).toFixed(1)} %`;
    console.log(`  found by itself: ${name}: ${days.length} days, ${share} came true`);
  }
}
