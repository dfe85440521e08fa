import { describe, expect, it, test } from "vitest";
import { climbS } from "../../service/dashboard/now/expected.ts";
import { isShown } from "../../service/dashboard/events/filter.ts";
import { createFormat, unbroken } from "../../service/dashboard/format.ts";
import { balanceText } from "../../service/dashboard/now/balance.ts";
import { spreadLabels } from "../../service/dashboard/stair/labels.ts";
import { unitsOfLocale } from "../../service/dashboard/units/choice.ts";
import { stairOf } from "../../service/dashboard/stair/steps.ts";
import { buildSiteView } from "../../service/site-view.ts";
import type { SiteVerdictView, StateView, VerdictView } from "../../service/state-view.ts";
import { testSite } from "../support/site.ts";
import { stateOf } from "../support/web-app.ts";

const site = buildSiteView(testSite(), { isTimeSimulated: false, hasHistory: false });
const format = createFormat({
  locale: "en-GB",
  timeZone: "Europe/Rome",
  units: unitsOfLocale("en-GB"),
});

function given(verdict: Partial<SiteVerdictView>, loads: Partial<VerdictView>[] = []): StateView {
  const state = stateOf("fresh");
  const { verdict: usual } = state;
  if (usual === null) throw new Error("the test's state has a verdict");
  return {
    ...state,
    verdict: { ...usual, ...verdict },
    loads: state.loads.map((load, index) => ({ ...load, ...loads[index] })),
  };
}

describe("the stair", () => {
  it("stands each load at the charge at which it starts and stops", () => {
    const state = given({ socFraction: 0.9, ruleCurveFraction: 0.8 });
    const steeper = {
      ...site,
      loads: site.loads.map((load, index) => ({
        ...load,
        startAboveFraction: 0.06 - index * 0.03,
      })),
    };
    const stair = stairOf(steeper, state);
    expect(stair?.kind).toBe("charge");
    expect(stair?.steps.map(({ id, number }) => [id, number])).toEqual([
      ["spring-pump", 1],
      ["water-heater", 2],
    ]);
    expect(stair?.steps[0]?.start).toBeCloseTo(0.83, 9);
    expect(stair?.steps[1]?.start).toBeCloseTo(0.86, 9);
    expect(stair?.steps[0]?.stop).toBeCloseTo(0.78, 9);
    expect(stair?.floor).toBe(0.6);
    expect(stair?.bottom).toBeCloseTo(0.55, 9);
    expect(stair?.top).toBe(1);
  });

  it("shows an empty battery on its scale, and says when the charge is not known", () => {
    expect(stairOf(site, given({ socFraction: 0.12 }))?.bottom).toBeCloseTo(0.05, 9);
    expect(stairOf(site, given({ socFraction: null }))?.level).toBeNull();
    expect(stairOf(site, { ...stateOf("fresh"), verdict: null })).toBeNull();
  });

  it("measures volts where the battery is known by its voltage alone", () => {
    const marks = { startV: 54.4, stopV: 52.1 };
    const flooded = { ...site, battery: { ...site.battery, voltageMarks: marks } };
    const stair = stairOf(flooded, given({ socFraction: null, restVoltageV: 51.5 }));
    expect(stair).toMatchObject({ kind: "voltage", level: 51.5, curve: null, bottom: 50, top: 56 });
    expect(stair?.steps.map(({ start, stop }) => [start, stop])).toEqual([
      [54.4, 52.1],
      [54.4, 52.1],
    ]);
  });

  it("tells running, waiting and held off apart", () => {
    const state = given({ socFraction: 0.9 }, [
      { stage: 2, severity: "info" },
      { stage: 0, severity: "alarm" },
    ]);
    const states = stairOf(site, state)?.steps.map((step) => [step.id, step.state]);
    expect(Object.fromEntries(states ?? [])).toEqual({
      "water-heater": "on",
      "spring-pump": "held",
    });
  });
});

test("a label is moved only as far as its neighbours ask, and stays on the picture", () => {
  const wanted = [100, 104, 300, 396, 399].map((wantedY, index) => ({
    key: String(index),
    wantedY,
  }));
  const placed = spreadLabels(wanted, { apart: 30, top: 10, bottom: 400 });
  expect(placed.map(({ y }) => y)).toEqual([100, 130, 300, 370, 400]);
});

describe("the time to a step", () => {
  const waits = { code: "waiting-band", figures: { limitFraction: 0.95 } } as const;
  const timeOf = (verdict: Partial<SiteVerdictView>, load: Partial<VerdictView>): number | null => {
    const state = given(verdict, [load]);
    return state.loads[0] === undefined ? null : climbS(site, state, state.loads[0]);
  };

  it("is the missing charge over the power into the battery", () => {
    // 5 % of 400 Ah × 51.2 V = 1024 Wh, at 512 W.
    expect(timeOf({ socFraction: 0.9, batteryPowerW: 512 }, waits)).toBeCloseTo(7200, 6);
  });

  it.each<[string, Partial<SiteVerdictView>, Partial<VerdictView>]>([
    ["the battery gives", { socFraction: 0.9, batteryPowerW: -300 }, waits],
    ["it would take days", { socFraction: 0.3, batteryPowerW: 60 }, waits],
    ["it is there already", { socFraction: 0.96, batteryPowerW: 512 }, waits],
    ["the power is not known", { socFraction: 0.9, batteryPowerW: null }, waits],
    [
      "it waits for something else",
      { socFraction: 0.9, batteryPowerW: 512 },
      { code: "waiting-rest" },
    ],
  ])("is not said when %s", (_why, verdict, load) => {
    expect(timeOf(verdict, load)).toBeNull();
  });
});

test("the balance adds up in words", () => {
  const { verdict } = given({
    sourcesPowerW: 3200,
    basePowerW: 400,
    batteryPowerW: 1500,
    isCurtailed: true,
  });
  expect(verdict === null ? "" : balanceText(verdict, format)).toBe(
    unbroken(
      "The sources give 3.2 kW; everyday use takes 400 W; opportunity loads and losses take " +
        "1.3 kW; the battery is charged with 1.5 kW. More could be had: the arrays are held back.",
    ),
  );
});

test("figures are written in the reader's way", () => {
  const german = createFormat({
    locale: "de-DE",
    timeZone: "Europe/Rome",
    units: unitsOfLocale("de-DE"),
  });
  expect(german.power(1234)).toBe("1,23\u00A0kW");
  expect(format.power(999.4)).toBe("999\u00A0W");
  expect(format.share(0.9449)).toBe("94.5\u00A0%");
  expect([59, 60, 3599, 5400, 90_000].map(format.span)).toEqual([
    "59\u00A0s",
    "1\u00A0min",
    "1\u00A0h",
    "1\u00A0h\u00A030\u00A0min",
    "1\u00A0d\u00A01\u00A0h",
  ]);
  expect(format.time("2026-03-02T22:30:00Z")).toBe("23:30");
});

test("events are found by owner, gravity and words", () => {
  const event = {
    at: "2026-03-02T12:00:00Z",
    about: "load",
    id: "spring-pump",
    label: "Spring pump",
    change: "stopped",
    code: "unconfirmed",
    severity: "warning",
    sentence: "off: its start was not confirmed",
  } as const;
  const all = { owner: "", least: "info", text: "" } as const;
  expect(isShown(event, all)).toBe(true);
  expect(isShown(event, { ...all, owner: "water-heater" })).toBe(false);
  expect(isShown(event, { ...all, least: "alarm" })).toBe(false);
  expect(isShown(event, { ...all, text: "PUMP confirmed" })).toBe(true);
  expect(isShown(event, { ...all, text: "pump welded" })).toBe(false);
});
