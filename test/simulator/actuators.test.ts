import { describe, expect, it } from "vitest";
import { createActuators } from "../../simulator/actuators.ts";
import type { Actuators } from "../../simulator/actuators.ts";
import { testLoad } from "../support/site.ts";
import { rigSite } from "./rig-site.ts";

const HEATER = { kind: "load", index: 0 } as const;
const PANEL = { kind: "panel", index: 0 } as const;
const { holdMs } = rigSite.actuators[0]!;

function shed(): Actuators {
  return createActuators(rigSite.actuators, rigSite.control);
}

/** Panel closed and the heater at its second stage. */
function running(): Actuators {
  const actuators = shed();
  actuators.command("shed/contactor/set", "1");
  actuators.command("shed/heater/set", '{"stage":2}');
  return actuators;
}

describe("a simulated actuator whose power can be set", () => {
  const timing = { repeatMs: 30_000, holdMs } as const;
  const setPoint = { payload: ["", " W"], unitW: 1, decimals: 0, minW: 200, stepW: 10 } as const;
  const place = { kind: "load", index: 0, id: "whey-vat", topic: "dairy/vat/set" } as const;

  function vat(): Actuators {
    return createActuators([{ ...place, payloads: ["stop"], setPoint, ...timing }], {
      ...rigSite.control,
      panels: [],
      loads: [
        testLoad({
          id: "whey-vat",
          label: "Whey vat",
          stagesW: [200],
          modulating: { minW: 200, maxW: 3000, stepW: 10, riseWPerS: 20 },
        }),
      ],
    });
  }

  it("takes any power up to its greatest, and off in either form", () => {
    const actuators = vat();
    for (const [payload, powerW] of [
      ["450 W", 450],
      ["460 W", 460],
      ["4000 W", 3000],
      ["stop", 0],
      ["500 W", 500],
      ["0 W", 0],
    ] as const) {
      expect(actuators.command("dairy/vat/set", payload)).toBe(true);
      expect(actuators.positions().loadPowersW).toEqual([powerW]);
      expect(actuators.reportedStage(0)).toBe(powerW > 0 ? 1 : 0);
    }
  });

  it.each(["450", "W", "-5 W", "450 W ", "NaN W"])("does nothing on %j", (payload) => {
    const actuators = vat();
    actuators.command("dairy/vat/set", "300 W");
    expect(actuators.command("dairy/vat/set", payload)).toBe(false);
    expect(actuators.positions().loadPowersW).toEqual([300]);
  });

  it("drops by itself after its hold, counted from the last set-point", () => {
    const actuators = vat();
    actuators.command("dairy/vat/set", "300 W");
    actuators.advanceTo(holdMs - 1);
    actuators.command("dairy/vat/set", "310 W");
    actuators.advanceTo(2 * holdMs - 2);
    expect(actuators.positions()).toMatchObject({ loadStages: [1], loadPowersW: [310] });
    actuators.advanceTo(2 * holdMs - 1);
    expect(actuators.positions()).toMatchObject({ loadStages: [0], loadPowersW: [0] });
  });

  it("when welded, goes on at the highest power that it was set to", () => {
    const actuators = vat();
    actuators.command("dairy/vat/set", "900 W");
    actuators.setFault(HEATER, { kind: "welded" });
    actuators.command("dairy/vat/set", "stop");
    expect(actuators.reportedStage(0)).toBe(0);
    expect(actuators.positions().loadPowersW).toEqual([900]);
  });
});

describe("simulated actuators", () => {
  it("start off, and obey the payload of each stage", () => {
    const actuators = shed();
    expect(actuators.fedStages()).toEqual([0, 0]);
    expect(actuators.positions().loadPowersW).toEqual([0, 0]);
    actuators.command("shed/contactor/set", "1");
    for (const stage of [1, 2, 0]) {
      expect(actuators.command("shed/heater/set", `{"stage":${stage}}`)).toBe(true);
      expect(actuators.reportedStage(0)).toBe(stage);
      expect(actuators.fedStages()).toEqual([stage, 0]);
    }
  });

  it("do nothing on a payload or a topic that is not theirs", () => {
    const actuators = running();
    expect(actuators.command("shed/heater/set", "2")).toBe(false);
    expect(actuators.command("shed/other/set", "1")).toBe(false);
    expect(actuators.fedStages()).toEqual([2, 0]);
  });

  it.each([
    [holdMs - 1, 2],
    [holdMs, 0],
    [holdMs + 1, 0],
  ])("after %i ms without a new ON are at stage %i", (ms, stage) => {
    const actuators = running();
    actuators.advanceTo(ms);
    expect(actuators.reportedStage(0)).toBe(stage);
    expect(actuators.isPanelClosed(0)).toBe(stage > 0);
  });

  it("hold on from the last ON, not from the first", () => {
    const actuators = running();
    actuators.advanceTo(holdMs - 1);
    actuators.command("shed/heater/set", '{"stage":1}');
    expect(actuators.nextDropMs()).toBe(holdMs);
    actuators.advanceTo(2 * holdMs - 2);
    expect(actuators.reportedStage(0)).toBe(1);
    actuators.advanceTo(2 * holdMs - 1);
    expect(actuators.reportedStage(0)).toBe(0);
    expect(actuators.nextDropMs()).toBeNull();
  });

  it("behind an open contactor draw nothing, whatever they report", () => {
    const actuators = running();
    actuators.command("shed/pump/set", "ON");
    actuators.command("shed/contactor/set", "0");
    expect(actuators.reportedStage(0)).toBe(2);
    expect(actuators.fedStages()).toEqual([0, 1]);
  });

  it("when welded, carry current after an OFF that they report as done", () => {
    const actuators = running();
    actuators.setFault(HEATER, { kind: "welded" });
    actuators.command("shed/heater/set", '{"stage":0}');
    expect(actuators.reportedStage(0)).toBe(0);
    expect(actuators.fedStages()).toEqual([2, 0]);
    actuators.command("shed/contactor/set", "0");
    expect(actuators.fedStages()).toEqual([0, 0]);
    actuators.command("shed/contactor/set", "1");
    actuators.setFault(HEATER, { kind: "none" });
    expect(actuators.fedStages()).toEqual([0, 0]);
  });

  it("when the contactor is welded, show that it is closed", () => {
    const actuators = running();
    actuators.setFault(PANEL, { kind: "welded" });
    actuators.command("shed/contactor/set", "0");
    expect(actuators.isPanelClosed(0)).toBe(true);
    actuators.advanceTo(holdMs + 1);
    expect(actuators.isPanelClosed(0)).toBe(true);
  });

  it("when dead, are off and stay off", () => {
    const actuators = running();
    actuators.setFault(HEATER, { kind: "dead" });
    actuators.command("shed/heater/set", '{"stage":2}');
    expect(actuators.reportedStage(0)).toBe(0);
    expect(actuators.fedStages()).toEqual([0, 0]);
  });

  it("when switched by hand, say so and heed neither command nor hold time", () => {
    const actuators = running();
    actuators.setFault(HEATER, { kind: "by-hand", stage: 1 });
    actuators.command("shed/heater/set", '{"stage":0}');
    actuators.advanceTo(holdMs - 1);
    actuators.command("shed/contactor/set", "1");
    actuators.advanceTo(holdMs + 1);
    expect(actuators.isByHand(0)).toBe(true);
    expect(actuators.fedStages()).toEqual([1, 0]);
    actuators.setFault(HEATER, { kind: "none" });
    expect(actuators.isByHand(0)).toBe(false);
    expect(actuators.fedStages()).toEqual([0, 0]);
  });

  it("refuse to go back in time", () => {
    const actuators = running();
    actuators.advanceTo(10);
    expect(() => actuators.advanceTo(9)).toThrow("does not go back");
  });
});
