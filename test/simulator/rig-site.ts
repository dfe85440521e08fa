import type { SignalSettings, SiteSettings } from "../../config/site-settings.ts";
import { signalOfOne } from "../support/signal.ts";
import type { SignalOfOne } from "../support/signal.ts";
import { testActuators, testControl, testLoad, testSite } from "../support/site.ts";

const WATT = { kind: "number", scale: 1, offset: 0 } as const;

function signal(settings: Partial<SignalOfOne>): SignalSettings {
  return signalOfOne({ key: "battery.soc", ownerId: null, decoding: WATT, ...settings });
}

const control = testControl();

/** A corner of the goat dairy: a heater on the surplus panel, and a pump wired on its own. */
export const rigSite: SiteSettings = {
  ...testSite(),
  control: {
    ...control,
    loads: [
      testLoad({
        id: "water-heater",
        label: "Water heater",
        panelIndex: 0,
        stagesW: [1_000, 2_000],
        tank: { surplusC: 58, hysteresisK: 4, limitC: 70, volumeL: null },
        hasReport: true,
        hasByHandInput: true,
      }),
      testLoad({
        id: "spring-pump",
        label: "Spring pump",
        priority: 2,
        stagesW: [750],
        hasReport: true,
        hasByHandInput: true,
      }),
    ],
  },
  telemetry: [
    signal({ field: "/soc", decoding: { kind: "number", scale: 0.01, offset: 0 } }),
    signal({ key: "battery.voltage", field: "/v" }),
    signal({ key: "battery.current", field: "/i" }),
    signal({ key: "array.{id}.power", ownerId: "roof", topic: "shed/roof/w" }),
    signal({ key: "inverter.power", topic: "shed/inverter", field: "/ac/w" }),
    signal({ key: "inverter.frequency", topic: "shed/inverter", field: "/ac/hz" }),
    signal({ key: "load.{id}.report", ownerId: "water-heater", topic: "shed/heater", field: "/n" }),
    signal({
      key: "load.{id}.report",
      ownerId: "spring-pump",
      topic: "shed/pump",
      decoding: { kind: "numberTable", table: { OFF: 0, ON: 1 } },
    }),
    signal({
      key: "load.{id}.byHand",
      ownerId: "spring-pump",
      topic: "shed/pump/hand",
      decoding: { kind: "booleanTable", table: { "1": true, "0": false } },
    }),
    signal({ key: "load.{id}.power", ownerId: "spring-pump", topic: "shed/pump/w" }),
    signal({ key: "load.{id}.tankTemperature", ownerId: "water-heater", topic: "shed/tank/c" }),
    signal({
      key: "panel.{id}.report",
      ownerId: "surplus",
      topic: "shed/contactor",
      decoding: { kind: "booleanTable", table: { "1": true, "0": false } },
    }),
  ],
  actuators: testActuators().map((actuator) =>
    actuator.id === "spring-pump"
      ? { ...actuator, payloads: ["OFF", "ON"], holdMs: 75_000 }
      : actuator,
  ),
};
