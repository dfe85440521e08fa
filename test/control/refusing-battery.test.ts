/** By an outlook, a battery that refuses power at its set-point keeps no load from what it refuses. */
import { describe, expect, it } from "vitest";
import { isAboveStart, isBelowStop } from "../../service/control/band-marks.ts";
import type { BandView } from "../../service/control/band-marks.ts";
import type { OutlookView } from "../../service/control/decision.ts";
import { floodedBattery, load } from "./given.ts";

const OUTLOOK: OutlookView = {
  expectedWh: 9000,
  cautiousWh: 5000,
  baseWh: 2000,
  sunsetSocFraction: 0.95,
  sunsetMs: 0,
  isCompleting: true,
  startsAtMs: [null],
};

function view(over: Partial<BandView["site"]>, isAtSetpoint = true): BandView {
  const site = {
    socSource: "monitor" as const,
    socFraction: 0.88,
    ruleCurveFraction: 0.97,
    bandFraction: -0.09,
    restVoltageV: null,
    outlook: OUTLOOK,
    isCurtailed: true,
  };
  return { site: { ...site, ...over }, isAtSetpoint, battery: floodedBattery() };
}

describe("under the rule curve", () => {
  it("a load may start and go on while arrays are held back at the set-point", () => {
    expect(isAboveStart(load(), view({}))).toBe(true);
    expect(isBelowStop(load(), view({}))).toBe(false);
  });

  it.each([
    ["the voltage is below it", view({}, false)],
    ["nothing is held back", view({ isCurtailed: false })],
    ["the curve is fixed", view({ outlook: null })],
  ])("it may not while %s", (_, at) => {
    expect(isAboveStart(load(), at)).toBe(false);
    expect(isBelowStop(load(), at)).toBe(true);
  });
});
