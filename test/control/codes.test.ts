/** A code that nothing produces is a promise in the docs: each one has a sequence that ends in it. */
import { describe, expect, it } from "vitest";
import type { Decision } from "../../service/control/decision.ts";
import type { LoadObservation } from "../../service/control/observation.ts";
import type { ControlSettings, LoadSettings } from "../../service/control/settings.ts";
import { SITE_CODES } from "../../service/control/site-codes.ts";
import { VERDICT_CODES } from "../../service/control/verdict-codes.ts";
import type { SiteCode } from "../../service/control/site-codes.ts";
import type { VerdictCode } from "../../service/control/verdict-codes.ts";
import {
  floodedBattery,
  fresh,
  HOUR_MS,
  lfpBattery,
  load,
  lost,
  MINUTE_MS,
  panel,
  panelObservation,
  Run,
  site,
  unmapped,
} from "./given.ts";
import type { Scene } from "./given.ts";

const READY_MS = 6 * MINUTE_MS;

/** A run that remembers every code that its decisions have carried. */
class Watched extends Run {
  readonly codes = new Set<string>();

  override tick(scene: Scene = {}): Decision {
    const decision = super.tick(scene);
    for (const { code } of decision.site.findings) this.codes.add(code);
    for (const { code } of decision.verdicts) this.codes.add(code);
    for (const { code } of decision.panelVerdicts) this.codes.add(code);
    return decision;
  }
}

function watch(over: Partial<ControlSettings> = {}): Watched {
  return new Watched(site(over));
}

function ofLoad(over: Partial<LoadSettings>): Watched {
  return watch({ loads: [load(over)] });
}

/** With a load that runs at its larger stage. */
function running(over: Partial<LoadSettings> = {}): Watched {
  const run = ofLoad(over);
  run.during(READY_MS);
  expect(run.stages).toEqual([2]);
  return run;
}

function withPanel(over: Partial<LoadSettings> = {}): Watched {
  return watch({ panels: [panel()], loads: [load({ panelIndex: 0, ...over })] });
}

/** A load has been running when a full charge falls due, three days later. */
function overdue(scene: Scene): Watched {
  const run = watch({ battery: floodedBattery({ fullChargeEveryDays: 2 }) });
  run.during(READY_MS);
  const later = { over: { localDay: 20_625 + 3, wallMs: Date.UTC(2026, 5, 24, 8) } };
  run.during(HOUR_MS, { ...later, ...scene });
  return run;
}

function withTank(celsius: number, quality: "fresh" | "stale" = "fresh"): Watched {
  const run = ofLoad({ tank: { surplusC: 68, hysteresisK: 4, limitC: 75, volumeL: null } });
  const tankTemperatureC = { value: celsius, quality, ageMs: 0 };
  run.tick({ loads: run.loads({ tankTemperatureC }) });
  return run;
}

/** One tick of a scene, on a site with the inverter's limits. */
function once(scene: Scene, over: Partial<ControlSettings> = {}): () => Watched {
  return () => {
    const run = watch({
      inverter: {
        ...site().inverter,
        temperatureMaxC: 70,
        acVoltage: { minV: 207, maxV: 253 },
        frequency: { minHz: 47, maxHz: 53 },
      },
      ...over,
    });
    run.tick(scene);
    return run;
  };
}

/** A scene that lasts, from a start with nothing known. */
function lasting(durationMs: number, scene: Scene, over: Partial<ControlSettings> = {}) {
  return () => {
    const run = watch(over);
    run.during(durationMs, scene);
    return run;
  };
}

const noMonitor = { socFraction: unmapped };
const flooded = { battery: floodedBattery() };
/** A report that says off, whatever was commanded. */
const dead = (run: Run) => () => ({ loads: run.loads({ reportedStage: fresh(0) }) });

const twoLegs = {
  inverter: {
    ...site().inverter,
    legs: [
      { id: "l1", continuousVA: 4000 },
      { id: "l2", continuousVA: 4000 },
    ],
  },
};

const SITE_SCENARIOS: Readonly<Record<SiteCode, () => Watched>> = {
  "broker-lost": once({ over: { isBrokerConnected: false } }),
  "telemetry-missing": once({ battery: { voltageV: lost(54) } }),
  "soc-unknown": once({ battery: { socFraction: lost(0.9, "waiting") } }),
  "discharge-blocked": once({ battery: { isDischargeBlocked: fresh(true) } }),
  "below-floor": once({ socFraction: 0.58 }),
  "voltage-low": once({ voltageV: 47.9 }),
  "inverter-fault": once({ inverter: { isFaulty: fresh(true) } }),
  "inverter-overload": once({ inverterW: 8001 }),
  "inverter-hot": once({ inverter: { temperatureC: fresh(71) } }),
  "ac-voltage": once({ inverter: { acVoltageV: fresh(200) } }),
  "ac-frequency": once({ inverter: { frequencyHz: fresh(54) } }),
  "generator-running": once({ over: { isGeneratorRunning: fresh(true) } }),
  "soc-disagrees": lasting(HOUR_MS, { socFraction: 0.9, currentA: -60 }),
  "soc-from-count": () => {
    const run = watch();
    run.tick();
    run.tick({ battery: { socFraction: lost(0.9) } });
    return run;
  },
  "voltage-high": once({ voltageV: 58.1 }),
  "voltage-over-input": once(
    { voltageV: 60.1 },
    { inverter: { ...site().inverter, maxInputV: 60 } },
  ),
  "discharge-over-limit": once({ currentA: -81, battery: { dischargeLimitA: fresh(80) } }),
  "power-unbalanced": lasting(
    4 * MINUTE_MS,
    { arrayW: 5000 },
    { balance: { toleranceW: 150, toleranceFraction: 0.1, forMs: 3 * MINUTE_MS } },
  ),
  "soc-not-following": lasting(
    20 * MINUTE_MS,
    {},
    { battery: lfpBattery({ socFollowsOverFraction: 0.03 }) },
  ),
  "leg-overload": once({ inverter: { legPowersW: [fresh(4001), fresh(0)] } }, twoLegs),
  "charge-blocked": once({ battery: { isChargeBlocked: fresh(true) } }),
  "clock-implausible": once({ over: { isWallClockPlausible: false } }),
};

const RUNNING: readonly (readonly [VerdictCode, () => Watched])[] = [
  ["running", () => running()],
  [
    "running-min-run",
    () => {
      const run = running();
      run.during(2 * MINUTE_MS, { socFraction: 0.91 });
      return run;
    },
  ],
  [
    "running-stop-soon",
    () => {
      const run = running();
      run.tick({ socFraction: 0.91 });
      return run;
    },
  ],
  [
    "running-short-of-power",
    () => {
      const run = running();
      run.tick({ socFraction: 0.93, currentA: -20 });
      return run;
    },
  ],
  [
    "stopped-band",
    () => {
      const run = running();
      run.during(11 * MINUTE_MS, { socFraction: 0.91 });
      return run;
    },
  ],
  [
    "stopped-power",
    () => {
      const run = running();
      run.during(11 * MINUTE_MS, { socFraction: 0.93, currentA: -60 });
      return run;
    },
  ],
  [
    "stopped-voltage",
    () => {
      const run = watch(flooded);
      run.during(READY_MS, { battery: noMonitor, voltageV: 52, currentA: 50 });
      run.during(11 * MINUTE_MS, { battery: noMonitor, voltageV: 49, currentA: 0 });
      return run;
    },
  ],
  [
    "stopped-not-full",
    () => {
      const run = watch();
      run.during(READY_MS, { battery: noMonitor, voltageV: 56, currentA: 60 });
      run.during(11 * MINUTE_MS, { battery: noMonitor, voltageV: 54, currentA: 60 });
      return run;
    },
  ],
  [
    "by-hand",
    () => {
      const run = watch();
      run.during(2 * MINUTE_MS, () => ({ loads: run.loads({ reportedStage: fresh(1) }) }));
      return run;
    },
  ],
];

const night: Scene = {
  currentA: -10,
  arrayW: 0,
  over: { wallMs: Date.UTC(2026, 5, 21, 23), localMinute: 60 },
};
const twoLoads = {
  loads: [load({ id: "a", stagesW: [500] }), load({ id: "b", stagesW: [500], priority: 2 })],
};

const FOLLOWING = { minW: 200, maxW: 3000, stepW: 10, riseWPerS: 30 };

function motor(over: Partial<LoadSettings> = {}): LoadSettings {
  return load({ stagesW: [750], powerFactor: 0.6, startPowerVA: 3000, ...over });
}

/** Started on what the band lends, under a sky that does not carry it. */
function tried(): Watched {
  const run = ofLoad({ isTolerant: true, stagesW: [1000] });
  const heldBack = { voltageV: 56, currentA: 2 };
  run.during(READY_MS, heldBack);
  run.during(20 * MINUTE_MS, () => (run.stages[0] === 0 ? heldBack : { currentA: -20 }));
  return run;
}

/** The sun was seen in the clear; now the battery is full. */
function heldBack(over: Partial<LoadSettings>): Watched {
  const run = ofLoad({ minRunMs: 30 * MINUTE_MS, startForMs: 20 * MINUTE_MS, ...over });
  run.during(15 * MINUTE_MS, { arrayW: 4500 });
  run.during(15 * MINUTE_MS, { arrayW: 600, voltageV: 56, currentA: 2 });
  return run;
}

/** A small load runs when one that ranks before it comes out of its tank's rest. */
function crowded(): Watched {
  const tank = { surplusC: 60, hysteresisK: 4, limitC: 75, volumeL: null };
  const run = watch({
    loads: [
      load({ id: "first", stagesW: [2000], minRunMs: 20 * MINUTE_MS, tank }),
      load({ id: "second", stagesW: [1500], priority: 2 }),
    ],
  });
  const scene = (celsius: number) => () => ({
    socFraction: 0.9601,
    currentA:
      45 - (run.memory.loads[0]?.powerW ?? 0) / 50 - (run.memory.loads[1]?.powerW ?? 0) / 50,
    loads: run.loads({ tankTemperatureC: fresh(celsius) }),
  });
  run.during(20 * MINUTE_MS, scene(70));
  run.during(5 * MINUTE_MS, scene(40));
  return run;
}

const WAITING: readonly (readonly [VerdictCode, () => Watched])[] = [
  ["waiting-band", lasting(READY_MS, { socFraction: 0.95 })],
  [
    "waiting-voltage",
    lasting(READY_MS, { battery: noMonitor, voltageV: 51, currentA: 0 }, flooded),
  ],
  ["waiting-full", lasting(READY_MS, { battery: noMonitor })],
  ["waiting-dwell", once({}, { loads: [load({ minRestMs: 0 })] })],
  ["waiting-power", lasting(READY_MS, { socFraction: 0.9601, currentA: -60 })],
  ["waiting-night", lasting(READY_MS, night)],
  ["waiting-full-charge", () => overdue({ voltageV: 52, currentA: 0 })],
  ["running-full-charge", () => overdue({ voltageV: 52, currentA: 0 })],
  ["stopped-full-charge", () => overdue({ voltageV: 52, currentA: 0 })],
  [
    "waiting-generator",
    () => {
      const run = watch();
      run.during(20 * MINUTE_MS, { over: { isGeneratorRunning: fresh(true) } });
      run.during(MINUTE_MS, { over: { isGeneratorRunning: fresh(false) } });
      return run;
    },
  ],
  ["waiting-inverter", lasting(READY_MS, { inverterW: 7500 })],
  ["waiting-apparent", lasting(READY_MS, { inverterW: 7000 }, { loads: [motor()] })],
  [
    "waiting-leg",
    lasting(READY_MS, { inverter: { legPowersW: [fresh(3600), fresh(0)] } }, twoLegs),
  ],
  [
    "waiting-sag",
    lasting(
      READY_MS,
      {},
      { loads: [motor({ startPowerVA: 9000 })], battery: lfpBattery({ resistanceOhm: 0.05 }) },
    ),
  ],
  [
    "waiting-discharge-limit",
    lasting(READY_MS, { currentA: 0, battery: { dischargeLimitA: fresh(10) } }),
  ],
  ["running-hidden", () => heldBack({})],
  ["running-hidden-maybe", () => tried()],
  ["running-try", () => tried()],
  ["stopped-try", () => tried()],
  ["waiting-try", () => tried()],
  ["waiting-displaces", () => crowded()],
  ["stopped-displaced", () => crowded()],
  [
    "running-follows",
    () => {
      const run = ofLoad({ stagesW: [200], modulating: FOLLOWING });
      run.during(READY_MS);
      return run;
    },
  ],
  ["waiting-surge", lasting(READY_MS, {}, { loads: [load({ startPowerVA: 20_000 })] })],
  [
    "waiting-feeder",
    lasting(
      READY_MS,
      {},
      { panels: [panel({ feederMaxW: 900 })], loads: [load({ panelIndex: 0 })] },
    ),
  ],
  ["waiting-rest", once({})],
  ["waiting-starts", lasting(READY_MS, {}, { loads: [load({ startsPerHourMax: 1 })] })],
  ["waiting-stagger", lasting(READY_MS, {}, twoLoads)],
  ["waiting-priority", lasting(READY_MS, {}, twoLoads)],
  [
    "waiting-contactor",
    () => {
      const run = withPanel();
      run.during(READY_MS);
      return run;
    },
  ],
  [
    "waiting-retry",
    () => {
      const run = ofLoad({ minRestMs: 0 });
      run.during(3 * MINUTE_MS, dead(run));
      return run;
    },
  ],
  ["waiting-high-voltage", lasting(READY_MS, { voltageV: 58.1 })],
  ["tank-warm", () => withTank(70)],
  ["quota-run-met", lasting(HOUR_MS, {}, { loads: [load({ quotaRunMs: 15 * MINUTE_MS })] })],
  ["quota-energy-met", lasting(HOUR_MS, {}, { loads: [load({ quotaEnergyWh: 500 })] })],
  ["outside-window", once({}, { loads: [load({ windows: [{ fromMinute: 0, toMinute: 60 }] })] })],
];

const ASKED: readonly (readonly [VerdictCode, () => Watched])[] = [
  ["running-asked", () => asked({ request: "run", requestForMs: HOUR_MS })],
  ["held-off", () => asked({ request: "hold", requestForMs: HOUR_MS })],
  ["asked-floor", () => asked({ request: "run", requestForMs: HOUR_MS }, { socFraction: 0.599 })],
  ["running-to-be-ready", () => dueInAnHour(0.7)],
  ["late-battery", () => dueInAnHour(0.9)],
  ["late-without-sun", () => dueInAnHour(null)],
];

/** It needs an hour, and that is what is left: the run of ticks begins at noon. */
function dueInAnHour(mayDrawToFraction: number | null): Watched {
  const ready = { reachC: null, reachRunMs: HOUR_MS, reachWh: null, mayDrawToFraction };
  const run = watch({ loads: [load({ deadline: { byMinute: 13 * 60 + 30, ...ready } })] });
  run.during(45 * MINUTE_MS, { socFraction: 0.8 });
  return run;
}

function asked(over: Partial<LoadObservation>, scene: Scene = {}): Watched {
  const run = watch();
  run.during(READY_MS, { socFraction: 0.6 });
  run.tick({ socFraction: 0.6, ...scene, loads: run.loads(over) });
  return run;
}

const HELD_OFF: readonly (readonly [VerdictCode, () => Watched])[] = [
  ["site-interlock", once({ voltageV: 47 })],
  ["tank-hot", () => withTank(75)],
  ["tank-unknown", () => withTank(50, "stale")],
  [
    "feeder-overload",
    () => {
      const run = withPanel();
      run.tick({ panels: [panelObservation({ powerW: fresh(7361) })] });
      return run;
    },
  ],
  [
    "unconfirmed",
    () => {
      const run = watch();
      run.during(READY_MS, dead(run));
      return run;
    },
  ],
  [
    "latched-dead",
    () => {
      const run = watch();
      run.during(HOUR_MS, dead(run));
      return run;
    },
  ],
  [
    "latched-welded",
    () => {
      const run = running();
      run.during(12 * MINUTE_MS, () => ({
        socFraction: 0.91,
        loads: run.loads({ reportedStage: fresh(2) }),
      }));
      return run;
    },
  ],
  [
    "latched-panel",
    () => {
      const run = withPanel();
      run.during(READY_MS, { panels: [panelObservation()] });
      return run;
    },
  ],
  [
    "panel-open",
    () => {
      // One of two is welded: the contactor opens in the same tick under the one that still runs.
      const run = watch({
        panels: [panel()],
        loads: [
          load({ id: "a", panelIndex: 0, stagesW: [500], minRunMs: HOUR_MS }),
          load({ id: "b", panelIndex: 0, stagesW: [500], priority: 2 }),
        ],
      });
      run.during(10 * MINUTE_MS);
      expect(run.stages).toEqual([1, 1]);
      run.during(12 * MINUTE_MS, () => ({
        socFraction: 0.91,
        loads: run.loads({ reportedStage: fresh(1) }),
      }));
      return run;
    },
  ],
];

/** A borehole pump with everything that can be watched of one. */
const pump: LoadSettings = load({
  id: "spring-pump",
  stagesW: [750],
  hasMeter: true,
  pump: {
    dryRun: { belowW: 300, belowLPerMin: 5, forMs: 10_000 },
    hasSourceContact: true,
    level: { fullFraction: 0.95, resumeFraction: 0.8 },
    pipeMinC: 2,
  },
});
const sockets: LoadSettings = load({
  id: "workshop",
  stagesW: [800],
  hasMeter: true,
  sockets: {
    maximumW: 2000,
    warnMs: 60_000,
    finishGraceMs: 2 * MINUTE_MS,
    hasRequest: false,
    requestMs: HOUR_MS,
  },
});
const onRequest = {
  maximumW: 2000,
  warnMs: 0,
  finishGraceMs: 0,
  hasRequest: true,
  requestMs: HOUR_MS,
};
const boiler = load({
  stagesW: [2000],
  tank: { surplusC: 68, hysteresisK: 4, limitC: 75, volumeL: 100 },
});

/** A pump that is well, but for `over`. */
function pumping(over: Partial<LoadObservation>, forMs = 7 * MINUTE_MS): Watched {
  const run = watch({ loads: [pump] });
  run.during(forMs, () => ({
    loads: run.loads({
      powerW: fresh(run.stages[0] === 1 ? 700 : 0),
      flowLPerMin: fresh(run.stages[0] === 1 ? 30 : 0),
      isSourceLow: fresh(false),
      levelFraction: fresh(0.5),
      pipeTemperatureC: fresh(8),
      ...over,
    }),
  }));
  return run;
}

/** Live sockets that draw `powerW` while they are on, and are then to go off. */
function plugged(powerW: number, forMs = HOUR_MS): Watched {
  const run = watch({ loads: [sockets] });
  run.during(READY_MS, () => ({ loads: run.loads({ powerW: fresh(0) }) }));
  expect(run.stages).toEqual([1]);
  run.during(forMs, () => ({
    socFraction: powerW > 2000 ? 0.97 : 0.91,
    loads: run.loads({ powerW: fresh(run.stages[0] === 1 ? powerW : 0) }),
  }));
  return run;
}

/** A tank that changes by so much for each minute in which it is heated. */
function heated(kelvinPerMinute: number, forMs: number): Watched {
  const run = watch({ loads: [boiler] });
  let celsius = 40;
  run.during(forMs, () => {
    if (run.stages[0] === 1) celsius += kelvinPerMinute / 6;
    return { loads: run.loads({ tankTemperatureC: fresh(celsius) }) };
  });
  return run;
}

const GUARDED: readonly (readonly [VerdictCode, () => Watched])[] = [
  [
    "idle-no-power",
    () => {
      const run = ofLoad({ hasMeter: true });
      run.during(8 * MINUTE_MS, () => ({ loads: run.loads({ powerW: fresh(3) }) }));
      return run;
    },
  ],
  [
    "idle-thermostat",
    () => {
      const run = ofLoad({ hasMeter: true });
      run.during(8 * MINUTE_MS, () => ({
        loads: run.loads({ powerW: fresh(run.stages[0] === 2 ? 2000 : 0) }),
      }));
      run.during(2 * MINUTE_MS, () => ({ loads: run.loads({ powerW: fresh(3) }) }));
      return run;
    },
  ],
  ["element-open", () => heated(0, 2 * HOUR_MS)],
  ["waiting-element", () => heated(0, 2 * HOUR_MS)],
  ["latched-open", () => heated(0, 6 * HOUR_MS)],
  ["latched-element", () => heated(5, 10 * MINUTE_MS)],
  ["pump-dry", () => pumping({ powerW: fresh(250) })],
  ["pump-no-flow", () => pumping({ flowLPerMin: fresh(1) })],
  ["waiting-dry-run", () => pumping({ powerW: fresh(250) }, 15 * MINUTE_MS)],
  ["latched-dry-run", () => pumping({ powerW: fresh(250) }, 3 * HOUR_MS)],
  ["pump-unwatched", () => pumping({ flowLPerMin: lost(30) })],
  ["pump-source-low", () => pumping({ isSourceLow: fresh(true) })],
  ["pump-source-unknown", () => pumping({ isSourceLow: lost(false) })],
  ["level-unknown", () => pumping({ levelFraction: lost(0.5) })],
  ["cistern-full", () => pumping({ levelFraction: fresh(0.95) })],
  ["pipe-cold", () => pumping({ pipeTemperatureC: fresh(1.9) })],
  ["pipe-unknown", () => pumping({ pipeTemperatureC: lost(8) })],
  ["sockets-overload", () => plugged(2001)],
  ["latched-sockets", () => plugged(2001)],
  [
    "sockets-unknown",
    () => {
      const run = watch({ loads: [sockets] });
      run.during(READY_MS, () => ({ loads: run.loads({ powerW: lost(0) }) }));
      return run;
    },
  ],
  ["sockets-going-off", () => plugged(500)],
  ["sockets-finishing", () => plugged(500)],
  [
    "waiting-request",
    lasting(READY_MS, {}, { loads: [load({ hasMeter: false, sockets: onRequest })] }),
  ],
  [
    "waiting-starts-day",
    () => {
      const run = running({ startsPerDayMax: 1 });
      run.during(20 * MINUTE_MS, { socFraction: 0.91 });
      run.during(20 * MINUTE_MS);
      return run;
    },
  ],
];

const PANELS: readonly (readonly [VerdictCode, () => Watched])[] = [
  [
    "panel-closed",
    () => {
      const run = withPanel();
      run.during(READY_MS);
      return run;
    },
  ],
  [
    "panel-waits-members",
    () => {
      const run = withPanel();
      run.during(READY_MS, () => ({
        loads: run.loads({ reportedStage: lost(0, "waiting") }),
      }));
      return run;
    },
  ],
  [
    "panel-lingers",
    () => {
      const run = withPanel();
      run.during(READY_MS);
      run.during(12 * MINUTE_MS, { socFraction: 0.91 });
      return run;
    },
  ],
  [
    "panel-idle",
    () => {
      const run = withPanel();
      run.tick();
      return run;
    },
  ],
];

const SCENARIOS = [...RUNNING, ...WAITING, ...ASKED, ...HELD_OFF, ...GUARDED, ...PANELS];

describe("every code of the site", () => {
  it.each(Object.entries(SITE_SCENARIOS))("%s is found", (code, scenario) => {
    expect(Object.keys(SITE_CODES)).toContain(code);
    expect([...scenario().codes]).toContain(code);
  });

  it("has a scenario", () => {
    expect(Object.keys(SITE_SCENARIOS).sort()).toEqual(Object.keys(SITE_CODES).sort());
  });
});

describe("every code of a load or panel", () => {
  it.each(SCENARIOS)("%s is reached", (code, scenario) => {
    expect([...scenario().codes]).toContain(code);
  });

  it("has a scenario", () => {
    const covered = SCENARIOS.map(([code]) => code);
    expect([...covered].sort()).toEqual(Object.keys(VERDICT_CODES).sort());
  });
});
