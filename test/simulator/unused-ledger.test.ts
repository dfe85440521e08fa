import { describe, expect, test } from "vitest";
import { loadSite } from "../../config/load.ts";
import { createLocalCalendar } from "../../config/local-calendar.ts";
import { step } from "../../service/control/step.ts";
import type { VerdictCode } from "../../service/control/verdict-codes.ts";
import { replay } from "../../simulator/replay.ts";
import { unusedParts } from "../../simulator/report/unused-words.ts";
import { createUnusedLedger } from "../../simulator/unused-ledger.ts";
import type { UnusedFigures } from "../../simulator/unused-ledger.ts";
import { syntheticDay } from "../../simulator/weather/synthetic-day.ts";
import { simulatedSite } from "./simulated-site.ts";

const { control } = simulatedSite();
/** The heater of 2 kW and the pump of 750 W, at an inverter of this efficiency. */
const { efficiencyFraction } = control.inverter;

/** An hour in which 3 kW were to be had and `deliveredW` were taken. */
function hour(
  codes: readonly [VerdictCode, VerdictCode],
  { deliveredW = 1000, loadPowerW = [0, 0] }: { deliveredW?: number; loadPowerW?: number[] } = {},
): UnusedFigures {
  const ledger = createUnusedLedger(control);
  const verdicts = codes.map((code) => ({ code }));
  const loadStages = codes.map((code) => (code.startsWith("running") ? 1 : 0));
  ledger.add(3600, { potentialW: 3000, deliveredW, loadPowerW }, { loadStages, verdicts });
  return ledger.figures();
}

const NOTHING: UnusedFigures = {
  unwantedWh: 0,
  batteryFirstWh: 0,
  tooLittleWh: 0,
  itsTurnWh: 0,
  noRoomWh: 0,
  heldOffWh: 0,
};

describe("what nobody took, by the reason", () => {
  test("loads that have enough want none of it", () => {
    expect(hour(["tank-warm", "quota-run-met"])).toEqual({ ...NOTHING, unwantedWh: 2000 });
  });

  test("a load that waits for the battery would have taken as much as it can", () => {
    const pumpWh = 750 / efficiencyFraction;
    const unused = hour(["tank-warm", "waiting-band"]);
    expect(unused.batteryFirstWh).toBeCloseTo(pumpWh, 6);
    expect(unused.unwantedWh).toBeCloseTo(2000 - pumpWh, 6);
  });

  test("no more than there was, the first load first", () => {
    // Behind the inverter the heater's 2 kW are more than the 2 kW that were left over.
    const unused = hour(["waiting-rest", "waiting-power"]);
    expect(unused).toEqual({ ...NOTHING, itsTurnWh: 2000 });
  });

  test("a load at its lower stage could have gone higher; one that runs in full could not", () => {
    const unused = hour(["running", "running"], { loadPowerW: [1000, 750] });
    expect(unused.tooLittleWh).toBeCloseTo(1000 / efficiencyFraction, 6);
    const full = hour(["running", "running"], { loadPowerW: [2000, 750] });
    expect(full).toEqual({ ...NOTHING, unwantedWh: 2000 });
  });

  test("one that is on and draws nothing has had enough by its own thermostat", () => {
    const unused = hour(["running", "quota-run-met"], { loadPowerW: [0, 0] });
    expect(unused).toEqual({ ...NOTHING, unwantedWh: 2000 });
  });

  test("sockets that an overload has switched off could have taken it, and hours are a turn", () => {
    const unused = hour(["sockets-overload", "outside-window"], { deliveredW: 0 });
    expect(unused.noRoomWh).toBeCloseTo(2000 / efficiencyFraction, 6);
    expect(unused.itsTurnWh).toBeGreaterThan(0);
  });

  test("no room and held off are told apart", () => {
    const unused = hour(["waiting-inverter", "latched-dead"], { deliveredW: 0 });
    expect(unused.noRoomWh).toBeCloseTo(2000 / efficiencyFraction, 6);
    expect(unused.heldOffWh).toBeCloseTo(
      Math.min(750 / efficiencyFraction, 3000 - 2000 / efficiencyFraction),
      6,
    );
  });
});

const EXAMPLES = ["malga", "tasmania"] as const;
const CURVES = ["{ mode: fixed, at: 94 % }", "{ mode: outlook }"] as const;
const CASES = EXAMPLES.flatMap((name) => CURVES.map((curve) => [name, curve] as const));

test.each(CASES)("the parts of %s under %s are all that was thrown away", (name, curve) => {
  const path = new URL(`../../config/examples/${name}.yaml`, import.meta.url).pathname;
  const site = loadSite({ path, overrides: [`ruleCurve=${curve}`] });
  const days = (["clear", "broken", "overcast"] as const).map((kind, day) =>
    syntheticDay({ site, localDate: `2025-10-0${String(day + 1)}`, seed: day, kind }),
  );
  const { totals, unused } = replay({
    site,
    days,
    step,
    calendar: createLocalCalendar(site.timeZone),
    stepS: 60,
    startFraction: 0.85,
    mayBridge: false,
    plant: null,
    onDecision: null,
  });
  const sumWh = Object.values<number>({ ...unused }).reduce((sum, wh) => sum + wh, 0);
  expect(totals.curtailedWh).toBeGreaterThan(1000);
  // All are rounded to six digits.
  expect(Math.abs(sumWh - totals.curtailedWh)).toBeLessThan(totals.curtailedWh * 1e-5);
});

describe("in words", () => {
  test("the largest part first, crumbs left out", () => {
    const parts = unusedParts({ ...NOTHING, unwantedWh: 300, tooLittleWh: 700, heldOffWh: 1 });
    expect(parts.map(({ energyWh }) => energyWh)).toEqual([700, 300]);
    expect(parts[1]?.words).toBe("that no load wanted");
  });

  test("nothing thrown away, nothing said", () => {
    expect(unusedParts(NOTHING)).toEqual([]);
  });
});
