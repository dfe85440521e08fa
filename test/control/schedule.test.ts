import { describe, expect, it } from "vitest";
import {
  fresh,
  HOUR_MS,
  load,
  loadObservation,
  MIDNIGHT_MS,
  MINUTE_MS,
  Run,
  site,
  TICK_MS,
  unmappedStage,
} from "./given.ts";

/** Long enough for the rest after start (5 min) and the start dwell (2 min) to be over. */
const READY_MS = 6 * MINUTE_MS;

describe("a waiting load", () => {
  it("starts at its largest stage once band, dwell and power allow it", () => {
    const run = new Run(site());
    run.during(5 * MINUTE_MS - TICK_MS);
    expect(run.stages).toEqual([0]);
    expect(run.decision?.verdicts[0]?.code).toBe("waiting-rest");
    run.during(MINUTE_MS);
    expect(run.stages).toEqual([2]);
  });

  it("takes the smaller stage where power for the larger one is missing at the rule curve", () => {
    // 1.3 kW to spare: 1 kW needs 1.09 kW at the battery, 2 kW would need 2.17 kW. Just over the
    // start mark the band could pay the difference; a larger minimum run makes that too dear.
    const run = new Run(site({ loads: [load({ minRunMs: 5 * HOUR_MS })] }));
    run.during(READY_MS, { socFraction: 0.961, currentA: 24 });
    expect(run.stages).toEqual([1]);
  });

  it("waits for its start mark", () => {
    const run = new Run(site());
    const decision = run.during(READY_MS, { socFraction: 0.955 });
    expect(run.stages).toEqual([0]);
    expect(decision.verdicts[0]).toMatchObject({ code: "waiting-band", measured: 0.955 });
    expect(decision.verdicts[0]?.limit).toBeCloseTo(0.96, 9);
  });

  it("starts at the mark itself, not a hair under it", () => {
    // 0.90 + 0.05 is 0.9500000000000001 in binary: the mark is compared as a band.
    const settings = site({
      ruleCurve: { kind: "fixed", atFraction: 0.5 },
      battery: { ...site().battery, floorFraction: 0.25 },
      loads: [load({ startAboveFraction: 0.25 })],
    });
    const at = new Run(settings);
    at.during(READY_MS, { socFraction: 0.75 });
    expect(at.stages).toEqual([2]);
    const under = new Run(settings);
    under.during(READY_MS, { socFraction: 0.7499 });
    expect(under.stages).toEqual([0]);
  });

  it("begins its dwell anew after one tick under the mark", () => {
    const run = new Run(site({ loads: [load({ minRestMs: 0 })] }));
    run.during(2 * MINUTE_MS - TICK_MS, { socFraction: 0.97 });
    run.tick({ socFraction: 0.95 });
    run.during(2 * MINUTE_MS, { socFraction: 0.97 });
    expect(run.stages).toEqual([0]);
    run.tick({ socFraction: 0.97 });
    expect(run.stages).toEqual([2]);
  });

  it("waits while the inverter is too busy", () => {
    const run = new Run(site());
    const decision = run.during(READY_MS, { inverterW: 7500 });
    expect(decision.verdicts[0]).toMatchObject({ code: "waiting-inverter", limit: 1000 });
    expect(run.stages).toEqual([0]);
  });

  it("waits while the inverter could not start it", () => {
    const pump = load({ stagesW: [750], startPowerVA: 4500 });
    const run = new Run(
      site({ loads: [pump], inverter: { ...site().inverter, surgeVA: 8000 + 1 } }),
    );
    const decision = run.during(READY_MS, { inverterW: 4000 });
    expect(decision.verdicts[0]).toMatchObject({ code: "waiting-surge", measured: 4001 });
  });

  it("waits outside its hours and starts in them", () => {
    const run = new Run(site({ loads: [load({ windows: [{ fromMinute: 780, toMinute: 840 }] })] }));
    expect(run.during(HOUR_MS - TICK_MS).verdicts[0]?.code).toBe("outside-window");
    run.during(2 * TICK_MS);
    expect(run.stages).toEqual([2]);
  });

  it("is not started by the band at night, but by power that goes to waste", () => {
    const night = { over: { wallMs: Date.UTC(2026, 5, 21, 23), localMinute: 60 } };
    const run = new Run(site());
    const decision = run.during(READY_MS, { ...night, currentA: -10, arrayW: 0 });
    expect(decision.verdicts[0]?.code).toBe("waiting-night");
    const hydro = new Run(
      site({ sources: [{ id: "creek", kind: "hydro", peakW: 3000 }], loads: [load()] }),
    );
    hydro.during(READY_MS, {
      currentA: 0,
      over: {
        ...night.over,
        sources: [{ powerW: fresh(500), dumpPowerW: fresh(2500), chargeStage: unmappedStage }],
      },
    });
    expect(hydro.stages).toEqual([2]);
  });

  it("counts its starts within the hour, and after a restart as used up", () => {
    const run = new Run(site({ loads: [load({ startsPerHourMax: 2, minRestMs: 0 })] }));
    const decision = run.during(READY_MS);
    expect(decision.verdicts[0]).toMatchObject({ code: "waiting-starts", measured: 2, limit: 2 });
    run.during(HOUR_MS - READY_MS + TICK_MS);
    expect(run.stages).toEqual([2]);
  });
});

describe("a running load", () => {
  function running(): Run {
    const run = new Run(site());
    run.during(READY_MS);
    expect(run.stages).toEqual([2]);
    return run;
  }

  it("stays through its minimum run, then stops under its stop mark", () => {
    const run = running();
    const decision = run.during(3 * MINUTE_MS, { socFraction: 0.91 });
    expect(decision.verdicts[0]?.code).toBe("running-min-run");
    run.during(7 * MINUTE_MS, { socFraction: 0.91 });
    expect(run.stages).toEqual([0]);
  });

  it.each([
    [-1, 2],
    [0, 0],
    [1, 0],
  ])("may stop %i ms from the end of its minimum run: stage %i", (offsetMs, stage) => {
    const run = new Run(site({ loads: [load({ stopForMs: 0 })] }));
    run.during(READY_MS);
    const startedAtMs = run.memory.loads[0]?.startedAtMs ?? 0;
    run.atMs = startedAtMs + 10 * MINUTE_MS + offsetMs - TICK_MS;
    run.tick({ socFraction: 0.9 });
    expect(run.stages).toEqual([stage]);
  });

  it("rides through a cloud while the band lends, and stops when the band is used up", () => {
    const run = running();
    run.during(15 * MINUTE_MS, { socFraction: 0.95, currentA: -30 });
    expect(run.stages).toEqual([2]);
    // 1.62 kW short: the smaller stage would give up only 1 kW of it.
    run.during(MINUTE_MS + TICK_MS, { socFraction: 0.935, currentA: -30 });
    expect(run.stages).toEqual([0]);
  });

  it("is lent nothing in the last two hours before sunset", () => {
    // Sunset of 21 June at 44.2° N 6.9° E is at 21:18 local time (from memory, to a few minutes).
    const evening = (localMinute: number) => ({
      over: { localMinute, wallMs: MIDNIGHT_MS + localMinute * MINUTE_MS },
      socFraction: 0.97,
      currentA: -30,
    });
    const run = running();
    run.during(15 * MINUTE_MS, evening(19 * 60 + 5));
    expect(run.stages).toEqual([2]);
    run.during(2 * MINUTE_MS, evening(19 * 60 + 30));
    expect(run.stages).toEqual([0]);
    expect(run.decision?.site).toMatchObject({ isDaylight: true, lendableWh: 0 });
  });

  it("steps down by what is missing before it stops", () => {
    const run = running();
    run.during(10 * MINUTE_MS);
    run.during(MINUTE_MS + TICK_MS, { socFraction: 0.93, currentA: -12 });
    expect(run.stages).toEqual([1]);
    run.during(2 * MINUTE_MS, { socFraction: 0.93, currentA: -25 });
    expect(run.stages).toEqual([0]);
  });

  it("steps up again when power is there", () => {
    const run = running();
    run.during(10 * MINUTE_MS);
    run.during(MINUTE_MS + TICK_MS, { socFraction: 0.93, currentA: -12 });
    expect(run.stages).toEqual([1]);
    run.during(4 * MINUTE_MS, { socFraction: 0.97, currentA: 40 });
    expect(run.stages).toEqual([2]);
  });

  it("goes on between stop mark and curve while the battery gets all that it takes", () => {
    const run = running();
    run.during(10 * MINUTE_MS);
    // Between stop mark and curve: what the battery takes is claimed, and it takes it.
    run.during(5 * MINUTE_MS, { socFraction: 0.93, currentA: 5 });
    expect(run.stages).toEqual([2]);
    expect(run.decision?.site.claimW).toBeCloseTo(5 * 54, 6);
  });

  it("stops when its tank is warm and starts again a hysteresis below", () => {
    const tank = { surplusC: 68, hysteresisK: 4, limitC: 75, volumeL: null };
    const run = new Run(site({ loads: [load({ tank })] }));
    const at = (celsius: number) => () => ({
      loads: run.loads({ tankTemperatureC: fresh(celsius) }),
    });
    run.during(READY_MS, at(50));
    expect(run.stages).toEqual([2]);
    run.during(10 * MINUTE_MS, at(68));
    expect(run.stages).toEqual([0]);
    expect(run.decision?.verdicts[0]).toMatchObject({ code: "tank-warm", measured: 68, limit: 68 });
    run.during(10 * MINUTE_MS, at(65));
    expect(run.stages).toEqual([0]);
    run.during(MINUTE_MS, at(64));
    expect(run.stages).toEqual([2]);
  });

  it("keeps its daily quota and begins anew the next day", () => {
    const run = new Run(site({ loads: [load({ quotaRunMs: 30 * MINUTE_MS })] }));
    const decision = run.during(HOUR_MS);
    expect(decision.verdicts[0]).toMatchObject({ code: "quota-run-met", measured: 30, limit: 30 });
    run.during(24 * HOUR_MS);
    expect(run.memory.loads[0]?.startsToday).toBe(1);
    expect(run.memory.loads[0]?.ranTodayMs).toBe(30 * MINUTE_MS);
  });
});

describe("several loads", () => {
  const two = [
    load({ id: "heater", priority: 1, stagesW: [1000] }),
    load({ id: "pump", priority: 2, stagesW: [750] }),
  ];

  it("start one by one in the order of priority", () => {
    const run = new Run(site({ loads: [...two].reverse() }));
    run.during(5 * MINUTE_MS);
    expect(run.stages).toEqual([0, 1]);
    expect(run.decision?.verdicts[0]?.code).toBe("waiting-priority");
    run.during(20_000);
    expect(run.stages).toEqual([0, 1]);
    expect(run.decision?.verdicts[0]?.code).toBe("waiting-stagger");
    run.tick();
    expect(run.stages).toEqual([1, 1]);
  });

  it("are shed from the last in the order, one per stagger time", () => {
    const run = new Run(site({ loads: two }));
    run.during(20 * MINUTE_MS);
    expect(run.stages).toEqual([1, 1]);
    run.during(MINUTE_MS + TICK_MS, { socFraction: 0.91 });
    expect(run.stages).toEqual([1, 0]);
    run.during(20_000, { socFraction: 0.91 });
    expect(run.stages).toEqual([1, 0]);
    run.tick({ socFraction: 0.91 });
    expect(run.stages).toEqual([0, 0]);
  });

  it("go by least energy today where the priority is the same", () => {
    const same = [load({ id: "a", stagesW: [500] }), load({ id: "b", stagesW: [500] })];
    const run = new Run(site({ loads: same }));
    run.during(5 * MINUTE_MS);
    expect(run.stages).toEqual([1, 0]);
    run.during(20 * MINUTE_MS);
    expect(run.stages).toEqual([1, 1]);
    // "a" has run longer today, so it is the last in the order now and is shed first.
    run.during(MINUTE_MS + TICK_MS, { socFraction: 0.91 });
    expect(run.stages).toEqual([0, 1]);
  });

  it("share a feeder", () => {
    const run = new Run(
      site({
        panels: [
          { id: "s", feederMaxW: 1500, hasReport: true, settleMs: 20_000, openAfterMs: 60_000 },
        ],
        loads: two.map((settings) => ({ ...settings, panelIndex: 0 })),
      }),
    );
    const decision = run.during(10 * MINUTE_MS);
    expect(run.stages).toEqual([1, 0]);
    expect(decision.verdicts[1]).toMatchObject({
      code: "waiting-feeder",
      measured: 500,
      limit: 750,
    });
  });
});

describe("a load that is on by hand", () => {
  it("is said, not latched, and counted as everyday use", () => {
    const run = new Run(site());
    const byHand = { loads: [loadObservation({ reportedStage: fresh(2) })] };
    run.tick();
    run.during(2 * MINUTE_MS, byHand);
    expect(run.decision?.verdicts[0]?.code).toBe("by-hand");
    expect(run.memory.loads[0]?.latch).toBe("none");
    run.tick();
    expect(run.memory.loads[0]?.isByHand).toBe(false);
  });
});
