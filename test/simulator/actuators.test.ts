import { describe, expect, it } from "vitest";
import { createActuators } from "../../simulator/actuators.ts";
import type { Actuators } from "../../simulator/actuators.ts";
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

describe("simulated actuators", () => {
  it("start off, and obey the payload of each stage", () => {
    const actuators = shed();
    expect(actuators.fedStages()).toEqual([0, 0]);
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
