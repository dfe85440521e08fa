/**
 * The control law's table of interlocks, row by row: what turns loads off at once, and what does
 * not. Each case begins with a site on which all is well and everything runs within its minimum
 * run; the tick that brings the doubt must be the one that turns off. Thresholds are this site's
 * settings, chosen for the test.
 */
import { describe, expect, it } from "vitest";
import type { LoadObservation, PanelObservation } from "../../service/control/observation.ts";
import type { ControlSettings } from "../../service/control/settings.ts";
import {
  fresh,
  HOUR_MS,
  load,
  lost,
  MINUTE_MS,
  panel,
  panelObservation,
  Run,
  site,
  TICK_MS,
} from "./given.ts";
import type { Scene } from "./given.ts";

const BOILER = 0;
const PUMP = 1;
const FILLER = 2;

const settings: ControlSettings = site({
  battery: { ...site().battery, dischargeLimitA: 200 },
  inverter: {
    ...site().inverter,
    temperatureMaxC: 70,
    acVoltage: { minV: 207, maxV: 253 },
    frequency: { minHz: 47, maxHz: 53 },
    maxInputV: 60,
    legs: [
      { id: "l1", continuousVA: 4000 },
      { id: "l2", continuousVA: 4000 },
    ],
  },
  balance: { toleranceW: 150, toleranceFraction: 0.1, forMs: 3 * MINUTE_MS },
  panels: [panel({ feederMaxW: 3000 })],
  loads: [
    load({
      id: "boiler",
      stagesW: [2000],
      panelIndex: 0,
      minRunMs: 6 * HOUR_MS,
      tank: { surplusC: 68, hysteresisK: 4, limitC: 75, volumeL: 100 },
    }),
    load({
      id: "pump",
      stagesW: [750],
      priority: 2,
      minRunMs: 6 * HOUR_MS,
      hasMeter: true,
      pump: {
        dryRun: { belowW: 300, belowLPerMin: 5, forMs: 10_000 },
        hasSourceContact: true,
        level: { fullFraction: 0.95, resumeFraction: 0.8 },
        pipeMinC: 2,
      },
    }),
    load({
      id: "filler",
      stagesW: [500],
      priority: 3,
      minRunMs: 6 * HOUR_MS,
      mayLoadGenerator: true,
    }),
  ],
});

interface Change extends Scene {
  readonly boiler?: Partial<LoadObservation>;
  readonly pump?: Partial<LoadObservation>;
  readonly panel?: Partial<PanelObservation>;
}

/** The site with one change; everything else in it is well, and adds up. */
class Shed extends Run {
  tankC = 40;

  constructor(own: ControlSettings = settings) {
    super(own);
  }

  pass(durationMs: number, change: Change = {}) {
    return this.during(durationMs, () => {
      if (this.stages[BOILER] === 1) this.tankC += (0.29 * TICK_MS) / MINUTE_MS;
      return this.scene(change);
    });
  }

  private scene(change: Change): Scene {
    const [boiler, pump, filler] = this.loads();
    if (boiler === undefined || pump === undefined || filler === undefined) {
      throw new Error("the site has three loads");
    }
    const acW = change.inverterW ?? 1500;
    const chargeW = (change.voltageV ?? 54) * (change.currentA ?? 52);
    return {
      inverterW: acW,
      arrayW: acW / 0.92 + 35 + chargeW,
      loads: [
        { ...boiler, tankTemperatureC: fresh(this.tankC), ...change.boiler },
        {
          ...pump,
          powerW: fresh(this.stages[PUMP] === 1 ? 700 : 0),
          flowLPerMin: fresh(this.stages[PUMP] === 1 ? 30 : 0),
          isSourceLow: fresh(false),
          levelFraction: fresh(0.5),
          pipeTemperatureC: fresh(8),
          ...change.pump,
        },
        filler,
      ],
      panels: [
        panelObservation({
          isClosed: fresh(this.memory.panels[0]?.isClosed === true),
          powerW: fresh(this.stages[BOILER] === 1 ? 2000 : 0),
          ...change.panel,
        }),
      ],
      ...change,
      battery: {
        isDischargeBlocked: fresh(false),
        isChargeBlocked: fresh(false),
        dischargeLimitA: fresh(200),
        ...change.battery,
      },
      inverter: {
        temperatureC: fresh(40),
        acVoltageV: fresh(230),
        frequencyHz: fresh(50),
        isFaulty: fresh(false),
        legPowersW: [fresh(800), fresh(700)],
        ...change.inverter,
      },
      over: {
        isGeneratorRunning: fresh(false),
        generatorPowerW: fresh(0),
        dcLoadsPowerW: fresh(0),
        ...change.over,
      },
    };
  }
}

function running(): Shed {
  const run = new Shed();
  run.pass(8 * MINUTE_MS);
  expect(run.stages).toEqual([1, 1, 1]);
  expect(run.decision?.site.findings).toEqual([]);
  return run;
}

interface Case {
  readonly what: string;
  readonly change: Change;
  /** Until it must be off; one tick if not said. */
  readonly forMs?: number;
  readonly stages?: readonly number[];
}

/** Each case turns off in the tick in which it must, and not in the one before. */
function offAtOnce(cases: readonly Case[]): void {
  for (const { what, change, forMs = TICK_MS, stages = [0, 0, 0] } of cases) {
    const run = running();
    if (forMs > TICK_MS) {
      run.pass(forMs - TICK_MS, change);
      expect(run.stages, `${what}: too early`).toEqual([1, 1, 1]);
    }
    run.pass(TICK_MS, change);
    expect(run.stages, what).toEqual(stages);
  }
}

function notOff(cases: readonly Case[]): void {
  for (const { what, change, forMs = TICK_MS } of cases) {
    const run = running();
    run.pass(forMs, change);
    expect(run.stages, what).toEqual([1, 1, 1]);
  }
}

/** Every way in which a reading may be unfit to act upon. */
const LOST = ["stale", "implausible", "frozen", "retained", "waiting"] as const;

describe("off at once", () => {
  it("critical telemetry stale, implausible or frozen", () => {
    offAtOnce(
      LOST.flatMap((quality): Case[] => [
        { what: `voltage ${quality}`, change: { battery: { voltageV: lost(54, quality) } } },
        { what: `current ${quality}`, change: { battery: { currentA: lost(52, quality) } } },
        { what: `inverter ${quality}`, change: { inverter: { powerW: lost(1500, quality) } } },
        {
          what: `inverter's temperature ${quality}`,
          change: { inverter: { temperatureC: lost(40, quality) } },
        },
        {
          what: `AC voltage ${quality}`,
          change: { inverter: { acVoltageV: lost(230, quality) } },
        },
        {
          what: `frequency ${quality}`,
          change: { inverter: { frequencyHz: lost(50, quality) } },
        },
        { what: `fault flag ${quality}`, change: { inverter: { isFaulty: lost(false, quality) } } },
        {
          what: `a leg ${quality}`,
          change: { inverter: { legPowersW: [fresh(800), lost(700, quality)] } },
        },
        {
          what: `discharge permission ${quality}`,
          change: { battery: { isDischargeBlocked: lost(false, quality) } },
        },
        {
          what: `generator ${quality}`,
          change: { over: { isGeneratorRunning: lost(false, quality) } },
        },
      ]),
    );
  });

  it("state of charge below floor − floorMargin", () => {
    notOff([{ what: "at it", change: { socFraction: 0.59 } }]);
    offAtOnce([{ what: "below it", change: { socFraction: 0.5899 } }]);
  });

  it("battery voltage low", () => {
    notOff([{ what: "at it", change: { voltageV: 48 } }]);
    offAtOnce([{ what: "below it", change: { voltageV: 47.99 } }]);
  });

  it("discharge blocked, or more than the battery's own protection allows", () => {
    offAtOnce([
      { what: "blocked", change: { battery: { isDischargeBlocked: fresh(true) } } },
      { what: "over the limit", change: { currentA: -201 } },
      {
        what: "over what it allows now",
        change: { currentA: -60, battery: { dischargeLimitA: fresh(50) } },
      },
    ]);
  });

  it("inverter over its rating, temperature, AC voltage or frequency limits, or fault flag", () => {
    notOff([
      { what: "at its rating", change: { inverterW: 8000 } },
      { what: "at its temperature", change: { inverter: { temperatureC: fresh(70) } } },
      { what: "at its lower voltage", change: { inverter: { acVoltageV: fresh(207) } } },
      { what: "at its upper frequency", change: { inverter: { frequencyHz: fresh(53) } } },
    ]);
    offAtOnce([
      { what: "rating", change: { inverterW: 8001 } },
      { what: "temperature", change: { inverter: { temperatureC: fresh(70.1) } } },
      { what: "voltage low", change: { inverter: { acVoltageV: fresh(206.9) } } },
      { what: "voltage high", change: { inverter: { acVoltageV: fresh(253.1) } } },
      { what: "frequency low", change: { inverter: { frequencyHz: fresh(46.9) } } },
      { what: "frequency high", change: { inverter: { frequencyHz: fresh(53.1) } } },
      { what: "fault", change: { inverter: { isFaulty: fresh(true) } } },
    ]);
  });

  it("feeder or leg over its continuous limit", () => {
    notOff([{ what: "feeder at its limit", change: { panel: { powerW: fresh(3000) } } }]);
    offAtOnce([
      {
        what: "feeder: what hangs on it",
        change: { panel: { powerW: fresh(3001) } },
        stages: [0, 1, 1],
      },
      { what: "leg", change: { inverter: { legPowersW: [fresh(4001), fresh(700)] } } },
    ]);
  });

  it("generator running, unless the load may load it", () => {
    offAtOnce([
      {
        what: "it runs",
        change: { over: { isGeneratorRunning: fresh(true) } },
        stages: [0, 0, 1],
      },
    ]);
  });

  it("tank over its limit or tank sensor lost", () => {
    const stages = [0, 1, 1];
    notOff([{ what: "under it", change: { boiler: { tankTemperatureC: fresh(43) } } }]);
    offAtOnce([
      { what: "at it", change: { boiler: { tankTemperatureC: fresh(75) } }, stages },
      ...LOST.map((quality) => ({
        what: `sensor ${quality}`,
        change: { boiler: { tankTemperatureC: lost(40, quality) } },
        stages,
      })),
    ]);
  });

  it("element dry (the tank warms faster than its power allows) or open (not at all)", () => {
    // Since its start about 3 min ago: 2.5 × 0.9 K + 4 K are allowed.
    offAtOnce([
      {
        what: "dry",
        change: { boiler: { tankTemperatureC: fresh(50) } },
        stages: [0, 1, 1],
      },
    ]);
    const run = running();
    // 10 K for 100 L are 1151 Wh, at 2 kW 34.5 min.
    run.pass(30 * MINUTE_MS, { boiler: { tankTemperatureC: fresh(40) } });
    expect(run.stages).toEqual([1, 1, 1]);
    run.pass(4 * MINUTE_MS, { boiler: { tankTemperatureC: fresh(40) } });
    expect(run.stages).toEqual([0, 1, 1]);
  });

  it("pump running dry, source low, destination level lost, pipe below its limit", () => {
    const stages = [1, 0, 1];
    notOff([
      { what: "power at the limit", change: { pump: { powerW: fresh(300) } }, forMs: MINUTE_MS },
      { what: "flow at the limit", change: { pump: { flowLPerMin: fresh(5) } }, forMs: MINUTE_MS },
      { what: "pipe at the limit", change: { pump: { pipeTemperatureC: fresh(2) } } },
    ]);
    const forMs = 2 * TICK_MS;
    offAtOnce([
      { what: "power for 10 s", change: { pump: { powerW: fresh(299) } }, forMs, stages },
      { what: "flow for 10 s", change: { pump: { flowLPerMin: fresh(4.9) } }, forMs, stages },
      { what: "source low", change: { pump: { isSourceLow: fresh(true) } }, stages },
      { what: "pipe cold", change: { pump: { pipeTemperatureC: fresh(1.9) } }, stages },
      ...LOST.flatMap((quality): Case[] => [
        { what: `power ${quality}`, change: { pump: { powerW: lost(700, quality) } }, stages },
        { what: `flow ${quality}`, change: { pump: { flowLPerMin: lost(30, quality) } }, stages },
        {
          what: `source ${quality}`,
          change: { pump: { isSourceLow: lost(false, quality) } },
          stages,
        },
        {
          what: `level ${quality}`,
          change: { pump: { levelFraction: lost(0.5, quality) } },
          stages,
        },
        {
          what: `pipe ${quality}`,
          change: { pump: { pipeTemperatureC: lost(8, quality) } },
          stages,
        },
      ]),
    ]);
  });

  it("command unconfirmed or state contradicts, latched after N", () => {
    const stages = [0, 1, 1];
    // Its settling time is 20 s.
    const forMs = 3 * TICK_MS;
    offAtOnce([
      { what: "says off", change: { boiler: { reportedStage: fresh(0) } }, forMs, stages },
      { what: "says nothing", change: { boiler: { reportedStage: lost(1) } }, forMs, stages },
    ]);
    const run = running();
    run.pass(HOUR_MS, { boiler: { reportedStage: fresh(0) } });
    expect(run.memory.loads[BOILER]?.latch).toBe("latched-dead");
    expect(run.stages).toEqual(stages);
    const welded = running();
    welded.pass(TICK_MS, { boiler: { tankTemperatureC: fresh(75), reportedStage: fresh(1) } });
    welded.pass(MINUTE_MS, { boiler: { tankTemperatureC: fresh(50), reportedStage: fresh(1) } });
    expect(welded.memory.loads[BOILER]?.latch).toBe("latched-welded");
    expect(welded.memory.panels[0]?.isClosed).toBe(false);
  });

  it("broker lost", () => {
    offAtOnce([{ what: "lost", change: { over: { isBrokerConnected: false } } }]);
  });
});

describe("not off", () => {
  it("high voltage: new starts are held; off only above the inverter's stated maximum input", () => {
    notOff([
      { what: "high", change: { voltageV: 58.5 }, forMs: 5 * MINUTE_MS },
      { what: "at the maximum input", change: { voltageV: 60 } },
    ]);
    offAtOnce([{ what: "above it", change: { voltageV: 60.1 } }]);
    const waiting = new Shed();
    const decision = waiting.pass(10 * MINUTE_MS, { voltageV: 58.5 });
    expect(waiting.stages).toEqual([0, 0, 0]);
    expect(decision.verdicts[FILLER]?.code).toBe("waiting-high-voltage");
  });

  it("charge blocked: the claim is 0, loads may run on measured sun", () => {
    const run = running();
    const decision = run.pass(5 * MINUTE_MS, {
      currentA: 0,
      battery: { isChargeBlocked: fresh(true) },
    });
    expect(run.stages).toEqual([1, 1, 1]);
    expect(decision.site.claimW).toBe(0);
  });

  it("clock implausible: timers and interlocks go on", () => {
    const change = { over: { isWallClockPlausible: false } };
    notOff([{ what: "clock", change, forMs: 10 * MINUTE_MS }]);
    offAtOnce([{ what: "clock and voltage", change: { ...change, voltageV: 47.9 } }]);
  });

  it("at the start of the core every load rests its full time first", () => {
    const run = new Shed();
    run.pass(5 * MINUTE_MS - TICK_MS);
    expect(run.stages).toEqual([0, 0, 0]);
    expect(run.decision?.verdicts.map(({ code }) => code)).toEqual(Array(3).fill("waiting-rest"));
  });
});

describe("doubt about fresh values", () => {
  it("powers that do not add up by 150 W or 10 % for 3 min", () => {
    const arrayW = 1500 / 0.92 + 35 + 54 * 52;
    notOff([
      { what: "by less", change: { arrayW: arrayW + 400 }, forMs: 10 * MINUTE_MS },
      { what: "for less", change: { arrayW: arrayW + 900 }, forMs: 3 * MINUTE_MS },
    ]);
    offAtOnce([
      {
        what: "by more for longer",
        change: { arrayW: arrayW + 900 },
        forMs: 3 * MINUTE_MS + TICK_MS,
      },
    ]);
  });

  it("state of charge that does not follow the current over 3 % of the capacity", () => {
    // 3 % of 400 Ah, at 52 A and 99 %, are 14.0 min. The monitor stands still.
    const battery = { ...settings.battery, socFollowsOverFraction: 0.03 };
    const run = new Shed({ ...settings, battery });
    run.pass(13 * MINUTE_MS + 50_000);
    expect(run.stages).toEqual([1, 1, 1]);
    run.pass(20_000);
    expect(run.stages).toEqual([0, 0, 0]);
    expect(run.decision?.site.findings.map(({ code }) => code)).toContain("soc-not-following");
  });
});
