/** What is told of a load's own thermostat, and what counts with it. */
import { describe, expect, it } from "vitest";
import type { Reading } from "../../service/control/observation.ts";
import type { LoadSettings } from "../../service/control/settings.ts";
import { fresh, HOUR_MS, load, lost, MINUTE_MS, panel, panelObservation } from "./given.ts";
import { TICK_MS } from "./given.ts";
import type { Run, Scene } from "./given.ts";
import { Metered, PLENTY } from "./metered-run.ts";

const READY_MS = 5 * MINUTE_MS;
const HOUSE_W = 1500;
/** What shows at one tick is told at the next one, at which it stands still. */
const SEEN_MS = 2 * TICK_MS;
const one = (over: Partial<LoadSettings> = {}) => load({ stagesW: [1000], ...over });

function thermostat(run: Run, index = 0) {
  return run.memory.loads[index]?.draw.thermostat;
}

const drawing = (run: Run, index = 0) => thermostat(run, index)?.drawing;
const baseAcW = (run: Run) => ((run.decision?.site.basePowerW ?? NaN) - 35) * 0.92;

/** It runs, and its start was seen, beside a house that uses more than it does. */
function started(over: Partial<LoadSettings> = {}, others: readonly LoadSettings[] = []): Metered {
  const run = new Metered([one(over), ...others], [1000, ...others.map(() => 900)]);
  run.baseW = HOUSE_W;
  run.pass(READY_MS + MINUTE_MS + others.length * MINUTE_MS);
  expect(run.stages[0]).toBe(1);
  return run;
}

describe("by the inverter's power, a load without a meter", () => {
  it("draws once its start was seen, and until then nobody knows", () => {
    const run = new Metered([one()], [1000]);
    run.baseW = HOUSE_W;
    run.pass(READY_MS + TICK_MS);
    expect(run.stages).toEqual([1]);
    expect(drawing(run)).toBe("unknown");
    run.pass(MINUTE_MS);
    expect(drawing(run)).toBe("draws");
  });

  it("rests after a fall by its own power, and draws after a like rise", () => {
    const run = started();
    for (const [actualW, seen] of [
      [0, "rests"],
      [1000, "draws"],
      [0, "rests"],
    ] as const) {
      run.actualW = [actualW];
      run.pass(SEEN_MS);
      expect(drawing(run)).toBe(seen);
      run.pass(10 * MINUTE_MS);
      expect(drawing(run)).toBe(seen);
      expect(baseAcW(run)).toBeCloseTo(HOUSE_W, 6);
    }
  });

  it("is told by what stands still: a motor's first surge makes no difference", () => {
    const run = started();
    run.actualW = [0];
    run.pass(MINUTE_MS);
    for (const surgeW of [4000, 2200, 1300, 1000]) {
      run.actualW = [surgeW];
      run.pass(TICK_MS);
      expect(drawing(run)).toBe("rests");
    }
    run.pass(TICK_MS);
    expect(drawing(run)).toBe("draws");
  });

  it.each([
    [-799, "draws"],
    [-801, "rests"],
    [-1199, "rests"],
    [-1201, "draws"],
  ])("of whose power little is known, a change by %d W makes one that %s", (changeW, seen) => {
    const run = started();
    run.baseW += changeW;
    run.pass(SEEN_MS);
    expect(drawing(run)).toBe(seen);
  });

  it("whose steps were all alike is taken for nothing else", () => {
    const run = started({ minRunMs: 0, minRestMs: 0 });
    for (let times = 0; times < 3; times += 1) {
      run.pass(3 * MINUTE_MS, { socFraction: 0.91 });
      run.pass(8 * MINUTE_MS);
    }
    expect(run.memory.loads[0]?.draw.stepsW[0]?.length).toBeGreaterThan(3);
    for (const changeW of [-900, 900, -1070, 1070]) {
      run.baseW += changeW;
      run.pass(MINUTE_MS);
      expect(drawing(run)).toBe("draws");
    }
    run.baseW -= 950;
    run.pass(MINUTE_MS);
    expect(drawing(run)).toBe("rests");
  });

  it("rests where all that is used is too little for it, whatever went before", () => {
    const run = started();
    // It goes while the house comes on: no change of its size is to be seen.
    run.actualW = [0];
    run.baseW = 2200;
    run.pass(MINUTE_MS);
    expect(drawing(run)).toBe("draws");
    run.baseW = 1800;
    run.pass(MINUTE_MS);
    run.baseW = 799;
    run.pass(SEEN_MS);
    expect(drawing(run)).toBe("rests");
  });

  it("whose power moves slowly with the house goes on", () => {
    const run = started();
    run.during(30 * MINUTE_MS, () => {
      run.baseW -= 5;
      return run.scene();
    });
    expect(run.baseW).toBe(HOUSE_W - 900);
    expect(drawing(run)).toBe("draws");
  });
});

describe("an appliance of its size", () => {
  it("that came on while the load drew may go off again", () => {
    const run = started();
    run.baseW += 1000;
    run.pass(5 * MINUTE_MS);
    expect(drawing(run)).toBe("draws");
    expect(thermostat(run)?.otherAtMs).not.toBeNull();
    run.baseW -= 1000;
    run.pass(5 * MINUTE_MS);
    expect(drawing(run)).toBe("draws");
    run.actualW = [0];
    run.pass(SEEN_MS);
    expect(drawing(run)).toBe("rests");
  });

  it("is not waited for longer than half an hour", () => {
    for (const [minutes, seen] of [
      [29, "draws"],
      [31, "rests"],
    ] as const) {
      const run = started();
      run.baseW += 1000;
      run.pass(minutes * MINUTE_MS);
      run.actualW = [0];
      run.pass(SEEN_MS);
      expect(drawing(run)).toBe(seen);
    }
  });

  it("that goes off is taken for the load, until that changes or stops", () => {
    const run = started();
    run.baseW += 2000;
    run.pass(MINUTE_MS);
    run.baseW -= 1000;
    run.pass(MINUTE_MS);
    expect(drawing(run)).toBe("rests");
    // Its real rest changes nothing about that; what comes after is right.
    run.actualW = [0];
    run.pass(MINUTE_MS);
    expect(drawing(run)).toBe("rests");
    run.actualW = [1000];
    run.pass(MINUTE_MS);
    expect(drawing(run)).toBe("draws");
    run.baseW -= 1000;
    run.pass(MINUTE_MS);
    expect(drawing(run)).toBe("rests");
    run.pass(20 * MINUTE_MS, { socFraction: 0.91 });
    expect(run.stages).toEqual([0]);
    run.pass(20 * MINUTE_MS);
    expect(run.stages).toEqual([1]);
    expect(drawing(run)).toBe("draws");
  });

  it("and was mistaken for it, does so for twelve hours at most", () => {
    const run = started();
    run.baseW -= 1000;
    run.pass(12 * HOUR_MS, { over: { isWallClockPlausible: false } });
    expect(drawing(run)).toBe("rests");
    run.pass(2 * MINUTE_MS, { over: { isWallClockPlausible: false } });
    expect(run.stages).toEqual([1]);
    expect(drawing(run)).toBe("unknown");
  });

  it("makes nobody believe that a load draws of which nothing is known", () => {
    const run = new Metered([one({ minRunMs: 0 })], [1000]);
    run.baseW = HOUSE_W;
    run.pass(READY_MS + MINUTE_MS);
    run.pass(5 * MINUTE_MS, { socFraction: 0.91 });
    // A restless house hides the next start.
    run.during(10 * MINUTE_MS, () => {
      if (run.stages[0] === 0) run.baseW = run.baseW === HOUSE_W ? HOUSE_W + 400 : HOUSE_W;
      return run.scene();
    });
    expect(run.stages).toEqual([1]);
    expect(drawing(run)).toBe("unknown");
    run.baseW += 1000;
    run.pass(MINUTE_MS);
    expect(drawing(run)).toBe("unknown");
    run.baseW -= 1000;
    run.pass(MINUTE_MS);
    expect(drawing(run)).toBe("unknown");
    run.actualW = [0];
    run.pass(MINUTE_MS);
    expect(drawing(run)).toBe("rests");
  });
});

describe("nothing is told", () => {
  const twin = one({ id: "b", priority: 2 });

  it("where a running load of the same size could have made the change", () => {
    const run = started({}, [twin]);
    expect([drawing(run), drawing(run, 1)]).toEqual(["draws", "draws"]);
    run.actualW = [1000, 0];
    run.pass(MINUTE_MS);
    expect([drawing(run), drawing(run, 1)]).toEqual(["unknown", "unknown"]);
  });

  it.each([
    ["has a meter", { hasMeter: true }, [900]],
    ["is of another size", { stagesW: [500] }, [500]],
    ["is too small to be told", { stagesW: [190] }, [1000]],
  ] as const)("but where the other one %s", (_, over, actualW) => {
    const run = new Metered([one(), { ...twin, ...over }], [1000, ...actualW]);
    run.baseW = HOUSE_W;
    run.pass(READY_MS + 3 * MINUTE_MS);
    expect(run.stages).toEqual([1, 1]);
    run.actualW = [0, ...actualW];
    run.pass(MINUTE_MS);
    expect(drawing(run)).toBe("rests");
  });

  it("or where the other one is off, or rests already", () => {
    const run = started({}, [twin]);
    // Together it is nobody's size.
    run.actualW = [1000, 0];
    run.baseW = HOUSE_W - 1400;
    run.pass(MINUTE_MS);
    expect([drawing(run), drawing(run, 1)]).toEqual(["draws", "draws"]);
    run.baseW = 200;
    run.actualW = [0, 0];
    run.pass(MINUTE_MS);
    expect([drawing(run), drawing(run, 1)]).toEqual(["rests", "rests"]);
    const alone = started({}, [{ ...twin, windows: [{ fromMinute: 0, toMinute: 1 }] }]);
    expect(alone.stages).toEqual([1, 0]);
    alone.actualW = [0, 0];
    alone.pass(MINUTE_MS);
    expect(drawing(alone)).toBe("rests");
  });

  it("while the inverter, or the meter of another load, is silent", () => {
    const metered = { ...twin, hasMeter: true, stagesW: [500] };
    for (const scene of [
      (run: Metered) => run.scene({ inverter: { powerW: lost(2500) } }),
      (run: Metered) => {
        const loads = run.loads();
        return run.scene({ loads: loads.map((seen) => ({ ...seen, powerW: lost(500) })) });
      },
    ]) {
      const run = new Metered([one(), metered], [1000, 500]);
      run.baseW = HOUSE_W;
      run.pass(READY_MS + 3 * MINUTE_MS);
      expect(drawing(run)).toBe("draws");
      run.tick(scene(run));
      expect(drawing(run)).toBe("unknown");
    }
  });

  it("but by a meter that is silent while its load is off", () => {
    const metered = { ...twin, hasMeter: true, windows: [{ fromMinute: 0, toMinute: 1 }] };
    const run = new Metered([one(), metered], [1000, 500]);
    run.baseW = HOUSE_W;
    const scene = () => {
      const loads = run.loads({ powerW: lost(0) });
      return run.scene({ loads });
    };
    run.during(READY_MS + 3 * MINUTE_MS, scene);
    run.actualW = [0, 0];
    run.during(MINUTE_MS, scene);
    expect(drawing(run)).toBe("rests");
  });

  it("beside a load whose power follows what it is told", () => {
    const modulating = { minW: 1000, maxW: 3000, stepW: 100, riseWPerS: 1 };
    const run = new Metered([one(), { ...twin, modulating }], [1000, 1000]);
    run.baseW = HOUSE_W;
    run.pass(READY_MS + 3 * MINUTE_MS);
    expect(run.stages).toEqual([1, 1]);
    expect([drawing(run), drawing(run, 1)]).toEqual(["unknown", "unknown"]);
  });

  it("by a reading that is none: an inverter that reports now and then", () => {
    const run = started();
    run.actualW = [0];
    const reported = run.scene();
    run.tick(reported);
    // The same reading again, older each time, does not stand still by itself.
    for (let ticks = 1; ticks <= 6; ticks += 1) {
      const powerW = fresh(reported.inverterW ?? 0, ticks * TICK_MS);
      run.tick(run.scene({ inverter: { powerW } }));
      expect(drawing(run)).toBe("draws");
    }
    run.tick(run.scene());
    expect(drawing(run)).toBe("rests");
  });

  it("by a change while something else of ours is switched", () => {
    const run = started({}, []);
    const other = new Metered([one(), { ...twin, startForMs: 10 * MINUTE_MS }], [1000, 900]);
    other.baseW = HOUSE_W;
    other.during(13 * MINUTE_MS, () => {
      // It goes to rest in the seconds in which the other one starts.
      if (other.stages[1] === 1) other.actualW = [0, 900];
      return other.scene();
    });
    expect(other.stages).toEqual([1, 1]);
    expect(drawing(other)).toBe("draws");
    expect(drawing(run)).toBe("draws");
  });

  it("by what another one still takes for a while after it was told to stop", () => {
    const settleMs = MINUTE_MS;
    const loads = [one({ settleMs }), { ...twin, settleMs, quotaRunMs: 15 * MINUTE_MS }];
    const run = new Metered(loads, [1000, 900]);
    run.baseW = HOUSE_W;
    let ticksOff = 0;
    run.during(30 * MINUTE_MS, () => {
      if (run.stages[1] === 0 && (run.memory.loads[1]?.startsToday ?? 0) > 0) ticksOff += 1;
      run.baseW = HOUSE_W + (ticksOff > 0 && ticksOff <= 4 ? 900 : 0);
      return run.scene();
    });
    expect(run.stages).toEqual([1, 0]);
    expect(ticksOff).toBeGreaterThan(10);
    expect(drawing(run)).toBe("draws");
  });

  it("of a load that is small, modulates, is sockets, or was never seen", () => {
    const sockets = {
      maximumW: 1000,
      warnMs: 0,
      finishGraceMs: 0,
      hasRequest: false,
      requestMs: 0,
    };
    const modulating = { minW: 1000, maxW: 1000, stepW: 100, riseWPerS: 1 };
    for (const over of [{ stagesW: [190] }, { sockets }, { modulating }]) {
      const run = new Metered([one(over)], [over.stagesW?.[0] ?? 1000]);
      run.pass(READY_MS + 2 * MINUTE_MS);
      run.actualW = [0];
      run.pass(5 * MINUTE_MS);
      expect(run.stages).toEqual([1]);
      expect(drawing(run)).toBe("unknown");
    }
    // Something else feeds it.
    const elsewhere = new Metered([one()], [0]);
    elsewhere.pass(READY_MS + 2 * MINUTE_MS);
    expect(elsewhere.stages).toEqual([1]);
    expect(drawing(elsewhere)).toBe("unknown");
  });
});

describe("a stage more or less", () => {
  it("is no change of the thermostat", () => {
    const run = new Metered([load({ minRunMs: 30 * MINUTE_MS })], [1000]);
    run.baseW = HOUSE_W;
    run.pass(READY_MS + TICK_MS, { currentA: 25, socFraction: 0.9605 });
    expect(run.stages).toEqual([1]);
    run.pass(MINUTE_MS, { currentA: 25, socFraction: 0.9605 });
    expect(drawing(run)).toBe("draws");
    run.during(20 * MINUTE_MS, () => {
      run.actualW = [1000 * (run.stages[0] ?? 0)];
      return run.scene();
    });
    expect(run.stages).toEqual([2]);
    expect(drawing(run)).toBe("draws");
    run.actualW = [0];
    run.pass(MINUTE_MS);
    expect(drawing(run)).toBe("rests");
  });
});

describe("by its panel's meter", () => {
  const onPanel = (over: Partial<LoadSettings> = {}) => one({ panelIndex: 0, ...over });

  class OnPanel extends Metered {
    panelW: (drawnW: number) => Reading = (drawnW) => fresh(drawnW);

    constructor(loads: readonly LoadSettings[], actualW: readonly number[]) {
      super(loads, actualW, { panels: [panel()] });
      this.baseW = HOUSE_W;
    }

    override scene(over: Scene = {}): Scene {
      const drawnW = this.stages.map((stage, index) =>
        stage > 0 ? (this.actualW[index] ?? 0) : 0,
      );
      const totalW = drawnW.reduce((sum, powerW) => sum + powerW, 0);
      const panels = this.memory.panels.map(({ isClosed }) =>
        panelObservation({ isClosed: fresh(isClosed), powerW: this.panelW(totalW) }),
      );
      return super.scene({ panels, ...over });
    }
  }

  function running(loads: readonly LoadSettings[], actualW: readonly number[]): OnPanel {
    const run = new OnPanel(loads, actualW);
    run.pass(READY_MS + 3 * MINUTE_MS);
    return run;
  }

  it("it is seen at once, also where the house hides it", () => {
    const run = running([onPanel()], [1000]);
    expect(run.stages).toEqual([1]);
    expect(drawing(run)).toBe("draws");
    run.actualW = [0];
    run.baseW += 1000;
    run.pass(TICK_MS);
    expect(drawing(run)).toBe("rests");
    run.actualW = [500];
    run.pass(TICK_MS);
    expect(drawing(run)).toBe("draws");
    run.actualW = [499];
    run.pass(TICK_MS);
    expect(drawing(run)).toBe("rests");
  });

  it("also of one that the inverter has never shown, and for as long as it takes", () => {
    const run = running([onPanel()], [0]);
    expect(run.stages).toEqual([1]);
    expect(drawing(run)).toBe("rests");
    expect(baseAcW(run)).toBeCloseTo(HOUSE_W, 6);
    run.pass(13 * HOUR_MS, { over: { isWallClockPlausible: false } });
    expect(run.stages).toEqual([1]);
    expect(drawing(run)).toBe("rests");
  });

  it("beside others that have meters, are off, or hang elsewhere", () => {
    const shut = { windows: [{ fromMinute: 0, toMinute: 1 }] };
    const run = running(
      [
        onPanel(),
        onPanel({ id: "b", priority: 2, hasMeter: true }),
        onPanel({ id: "c", priority: 3, ...shut }),
        one({ id: "d", priority: 4, ...shut }),
      ],
      [1000, 900, 800, 700],
    );
    expect(run.stages).toEqual([1, 1, 0, 0]);
    expect(drawing(run)).toBe("draws");
    run.actualW = [0, 900, 800, 700];
    run.pass(TICK_MS);
    expect(drawing(run)).toBe("rests");
  });

  it("not beside one that draws nobody knows what, nor by a meter that is silent", () => {
    const others: Partial<LoadSettings>[] = [{}, { hasMeter: true }];
    for (const over of others) {
      const run = running([onPanel(), onPanel({ id: "b", priority: 2, ...over })], [1000, 600]);
      expect(run.stages).toEqual([1, 1]);
      run.actualW = [0, 600];
      const loads = run.loads();
      run.tick(run.scene(over.hasMeter === true ? { loads } : {}));
      expect(drawing(run)).not.toBe("rests");
    }
    const silent = running([onPanel()], [1000]);
    silent.panelW = () => lost(1000);
    silent.pass(MINUTE_MS);
    expect(drawing(silent)).toBe("draws");
    silent.actualW = [0];
    silent.pass(TICK_MS);
    expect(drawing(silent)).toBe("draws");
    silent.pass(TICK_MS);
    expect(drawing(silent)).toBe("rests");
  });

  it("not beside one that somebody has switched on by hand", () => {
    const shut = { windows: [{ fromMinute: 0, toMinute: 1 }] };
    const run = running([onPanel(), onPanel({ id: "b", priority: 2, ...shut })], [1000, 0]);
    expect(drawing(run)).toBe("draws");
    // Whatever is on beside it: the panel shows as much as before, the inverter less.
    const byHand = () => {
      const [own, other] = run.loads();
      return run.scene({ loads: [own!, { ...other!, reportedStage: fresh(1) }] });
    };
    run.panelW = () => fresh(1000);
    run.during(3 * MINUTE_MS, byHand);
    expect(run.memory.loads[1]?.isByHand).toBe(true);
    run.actualW = [0, 0];
    run.during(SEEN_MS, byHand);
    expect(drawing(run)).toBe("rests");
  });

  it("not by what it showed before the load had settled", () => {
    const run = new OnPanel([onPanel()], [1000]);
    run.panelW = () => fresh(0, 40_000);
    run.pass(READY_MS + MINUTE_MS);
    expect(run.stages).toEqual([1]);
    expect(drawing(run)).toBe("draws");
    run.pass(TICK_MS);
    expect(drawing(run)).toBe("rests");
  });
});

describe("a load that rests", () => {
  const second = (over: Partial<LoadSettings>) =>
    one({ id: "b", priority: 2, stagesW: [2000], startForMs: 20 * MINUTE_MS, ...over });

  it("keeps the inverter's room for when it draws again, as one does of which nobody knows", () => {
    const third = one({ id: "c", priority: 3, stagesW: [300], hasMeter: true });
    for (const [actualW, isSilent, houseW, seen, code] of [
      [1000, false, 4200, "draws", "running"],
      [0, false, 5200, "rests", "waiting-inverter"],
      [0, false, 4600, "rests", "running"],
      [1000, true, 4200, "unknown", "waiting-inverter"],
    ] as const) {
      const run = new Metered([one(), second({}), third], [1000, 2000, 300]);
      run.baseW = HOUSE_W;
      run.pass(READY_MS + 2 * MINUTE_MS);
      expect(run.stages).toEqual([1, 0, 1]);
      run.actualW = [actualW, 2000, 300];
      run.pass(MINUTE_MS);
      run.baseW = houseW;
      run.pass(10 * MINUTE_MS);
      if (isSilent) run.tick(run.scene({ loads: run.loads({ powerW: lost(300) }) }));
      expect(drawing(run)).toBe(seen);
      run.pass(4 * MINUTE_MS);
      expect([seen, houseW, run.decision?.verdicts[1]?.code]).toEqual([seen, houseW, code]);
    }
  });

  it("frees nothing by going, so it is not stopped for another", () => {
    for (const [actualW, codes] of [
      [1000, ["stopped-displaced", "waiting-displaces"]],
      [0, ["running", "waiting-power"]],
    ] as const) {
      const first = second({ priority: 0, stagesW: [1000], minRunMs: HOUR_MS });
      const run = new Metered([one({ minRunMs: 0 }), first], [1000, 1000]);
      run.baseW = HOUSE_W;
      run.pass(READY_MS + MINUTE_MS);
      expect(run.stages).toEqual([1, 0]);
      run.actualW = [actualW, 1000];
      let verdicts: readonly string[] = [];
      run.during(20 * MINUTE_MS, () => {
        if (verdicts[1] !== "waiting-displaces") {
          verdicts = run.decision?.verdicts.map(({ code }) => code) ?? [];
        }
        return run.scene({ currentA: 10, socFraction: 0.9601 });
      });
      expect(verdicts).toEqual(codes);
    }
  });

  it("or seems to, does not make a sound tank look dry", () => {
    const tank = { surplusC: 80, hysteresisK: 4, limitC: 90, volumeL: 50 };
    const run = new Metered([one({ tank })], [1000]);
    run.baseW = HOUSE_W + 2000;
    let celsius = 30;
    const heating = () => {
      // 1 kW into 50 L of water.
      if (run.stages[0] === 1) celsius += ((1000 * TICK_MS) / HOUR_MS) * (3600 / (4186 * 50));
      return run.scene({ loads: run.loads({ tankTemperatureC: fresh(celsius) }) });
    };
    run.during(READY_MS + MINUTE_MS, heating);
    run.baseW -= 1000;
    run.during(50 * MINUTE_MS, heating);
    expect(drawing(run)).toBe("rests");
    expect(celsius).toBeGreaterThan(44);
    expect(run.stages).toEqual([1]);
    expect(run.memory.loads[0]?.latch).toBe("none");
  });

  it("puts nothing into the day's quota, and the battery's power stays what is on offer", () => {
    const run = started({ quotaEnergyWh: 5000 });
    const usedWh = () => run.memory.loads[0]?.usedTodayWh ?? NaN;
    run.actualW = [0];
    run.pass(MINUTE_MS);
    const restingWh = usedWh();
    const { availableW, batteryPowerW } = run.pass(HOUR_MS).site;
    expect(usedWh()).toBe(restingWh);
    expect(availableW).toBe(batteryPowerW);
    expect(batteryPowerW).toBeCloseTo((PLENTY.currentA ?? NaN) * 54, 6);
  });
});
