/** Long sequences in which doubt creeps in slowly; each was seen to run a load before it was mended. */
import { describe, expect, it } from "vitest";
import {
  floodedBattery,
  fresh,
  HOUR_MS,
  load,
  MINUTE_MS,
  panel,
  panelObservation,
  Run,
  site,
} from "./given.ts";

const READY_MS = 6 * MINUTE_MS;

/** A report that is wrong in every other tick of an hour, as of a contactor that chatters. */
function chattering(): Run {
  const run = new Run(site());
  run.during(READY_MS);
  let tick = 0;
  run.during(HOUR_MS, () => {
    tick += 1;
    return { loads: run.loads({ reportedStage: fresh(tick % 2 === 0 ? 2 : 0) }) };
  });
  return run;
}

/** A generator has charged the battery over the start mark and has just been stopped. */
function afterGenerator(): Run {
  const run = new Run(site());
  run.during(20 * MINUTE_MS, { over: { isGeneratorRunning: fresh(true) } });
  run.during(MINUTE_MS, { over: { isGeneratorRunning: fresh(false) } });
  return run;
}

/** A full charge falls due while a load runs that takes all the sun, far from absorption. */
function overdueWhileRunning(): Run {
  const run = new Run(site({ battery: floodedBattery({ fullChargeEveryDays: 2 }) }));
  run.during(READY_MS);
  const later = { over: { localDay: 20_625 + 3, wallMs: Date.UTC(2026, 5, 24, 8) } };
  run.during(2 * HOUR_MS, { ...later, voltageV: 52, currentA: 0 });
  return run;
}

/** The battery current is 50 s old at a second start, 30 s after the first. */
function startOnOldCurrent(): Run {
  const settled = { stagesW: [1500], minRunMs: 5 * HOUR_MS };
  const run = new Run(
    site({ loads: [load({ id: "a", ...settled }), load({ id: "b", priority: 2, ...settled })] }),
  );
  run.during(5 * MINUTE_MS + 30_000, { battery: { currentA: fresh(35, 50_000) } });
  return run;
}

/** The contactor says open, and its panel draws all the same. */
function weldedContactor(): Run {
  const run = new Run(site({ panels: [panel()], loads: [load({ panelIndex: 0 })] }));
  const panels = [panelObservation({ powerW: fresh(1500) })];
  run.during(2 * MINUTE_MS, { panels });
  return run;
}

describe("doubt that creeps in", () => {
  it("a load whose report keeps contradicting is stopped", () => {
    expect(chattering().stages).toEqual([0]);
  });

  it("for ten minutes after a generator nothing starts on what it has charged", () => {
    expect(afterGenerator().stages).toEqual([0]);
  });

  it("an overdue full charge takes the sun back from a running load", () => {
    expect(overdueWhileRunning().stages).toEqual([0]);
  });

  it("no load starts on a current that is older than the start before", () => {
    expect(startOnOldCurrent().stages[1]).toBe(0);
  });

  it("a contactor that is welded shut is said", () => {
    expect(weldedContactor().decision?.panelVerdicts[0]?.code).toBe("latched-panel");
  });
});
