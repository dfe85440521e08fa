import { describe, expect, it } from "vitest";
import type { Positions } from "../../simulator/actuators.ts";
import { createPlantSide } from "../../simulator/plant-side.ts";
import { createPlant } from "../../simulator/plant/plant.ts";
import { plantSettings } from "../../simulator/plant/plant-settings.ts";
import { createRig } from "../../simulator/rig.ts";
import type { Bus, BusMessage, PlantSide, Rig } from "../../simulator/rig.ts";
import { heardBy } from "../support/heard.ts";
import { feedOf } from "../support/signal.ts";
import { rigSite } from "./rig-site.ts";

const WALL_MS = Date.UTC(2026, 5, 15, 10);
const wallMs = (): number => WALL_MS;

interface Published {
  readonly topic: string;
  readonly payload: string;
  readonly qos: number;
  readonly isRetained: boolean;
}

/** A bus in one array: the test speaks for the daemon. */
function createTestBus() {
  const published: Published[] = [];
  const subscribed: string[] = [];
  let handle: (message: BusMessage) => void = () => undefined;
  const bus: Bus = {
    publish: (topic, payload, options) => published.push({ topic, payload, ...options }),
    subscribe(topics, handler) {
      subscribed.push(...topics);
      handle = handler;
    },
  };
  const command = (topic: string, payload: string): void =>
    handle({ topic, payload: new TextEncoder().encode(payload) });
  return { bus, published, subscribed, command };
}

interface Advance {
  readonly dtMs: number;
  readonly positions: Positions;
}

function createTestPlant() {
  const advances: Advance[] = [];
  const plantSide: PlantSide = {
    advance: (dtMs, positions) => advances.push({ dtMs, positions }),
    read: (key) => (key === "inverter.frequency" ? null : 42),
  };
  return { plantSide, advances };
}

describe("the simulated shed on a bus", () => {
  it("publishes each mapped topic once, live and not retained, and counts the messages", () => {
    const { bus, published } = createTestBus();
    const rig = createRig({ site: rigSite, bus, plantSide: createTestPlant().plantSide, wallMs });
    const topics = new Set(rigSite.telemetry.map((signal) => feedOf(signal).topic));
    expect(rig.publish()).toBe(topics.size);
    expect(new Set(published.map(({ topic }) => topic))).toEqual(topics);
    expect(published.every(({ qos, isRetained }) => qos === 0 && !isRetained)).toBe(true);
    rig.publish();
    expect(rig.publishedCount()).toBe(published.length);
    expect(published).toHaveLength(2 * topics.size);
  });

  it("names the signals that its plant cannot tell", () => {
    const { bus } = createTestBus();
    const rig = createRig({ site: rigSite, bus, plantSide: createTestPlant().plantSide, wallMs });
    expect(rig.silentSignals()).toEqual(["inverter.frequency"]);
  });

  it("listens to every command topic, obeys, and counts what it did not understand", () => {
    const { bus, subscribed, command } = createTestBus();
    const rig = createRig({ site: rigSite, bus, plantSide: createTestPlant().plantSide, wallMs });
    rig.start();
    expect(subscribed).toEqual(rigSite.actuators.map(({ topic }) => topic));
    command("shed/pump/set", "ON");
    command("shed/pump/set", "on");
    expect(rig.commandCounts()).toEqual({ obeyed: 1, refused: 1 });
    expect(rig.actuators.reportedStage(1)).toBe(1);
  });

  it("splits a step where a hold time runs out", () => {
    const { bus, command } = createTestBus();
    const { plantSide, advances } = createTestPlant();
    const rig = createRig({ site: rigSite, bus, plantSide, wallMs });
    rig.start();
    rig.advance(1_000);
    command("shed/pump/set", "ON");
    rig.advance(120_000);
    expect(advances.map(({ dtMs, positions }) => [dtMs, positions.loadStages[1]])).toEqual([
      [0, 0],
      [1_000, 0],
      [75_000, 1],
      [45_000, 0],
    ]);
    expect(rig.elapsedMs()).toBe(121_000);
  });
});

function createRealRig(): ReturnType<typeof createTestBus> & { readonly rig: Rig } {
  const testBus = createTestBus();
  const { control } = rigSite;
  const plant = createPlant(plantSettings(rigSite), 0.8);
  const plantSide = createPlantSide({
    control,
    plant,
    inputFor: (_dtMs, positions) => ({
      ...positions,
      arrayPotentialW: Float64Array.of(5_000),
      windPotentialW: new Float64Array(0),
      irradianceWm2: NaN,
      baseAcW: 400,
      batteryTemperatureC: 20,
      localMinute: 720,
      isGeneratorCalled: false,
      loadPowersW: [],
    }),
  });
  const rig = createRig({ site: rigSite, bus: testBus.bus, plantSide, wallMs });
  rig.start();
  return { ...testBus, rig };
}

/** What a daemon with the same settings understands of the last round. */
function heard(published: readonly Published[]): Record<string, unknown> {
  const values: Record<string, unknown> = {};
  for (const { signal, value, ignoredCounts } of heardBy(rigSite.telemetry, published, WALL_MS)) {
    expect(ignoredCounts).toEqual({});
    values[`${signal.key} ${signal.ownerId ?? ""}`.trim()] = value;
  }
  return values;
}

describe("the simulated shed with the simulated plant", () => {
  it("tells every mapped signal from the start, with the sun already up", () => {
    const { rig, published } = createRealRig();
    rig.publish();
    expect(rig.silentSignals()).toEqual([]);
    expect(heard(published)["array.{id}.power roof"]).toBe(5_000);
  });

  it("shows a heater's power to the daemon when commanded, and no longer when it dropped", () => {
    const { rig, published, command } = createRealRig();
    rig.advance(2_000);
    rig.publish();
    expect(heard(published)).toMatchObject({
      "inverter.power": 400,
      "load.{id}.report water-heater": 0,
      "panel.{id}.report surplus": false,
      "inverter.frequency": 50,
    });
    command("shed/contactor/set", "1");
    command("shed/heater/set", '{"stage":2}');
    rig.advance(2_000);
    rig.publish();
    expect(heard(published)).toMatchObject({
      "inverter.power": 2_400,
      "load.{id}.report water-heater": 2,
      "panel.{id}.report surplus": true,
    });
    rig.advance(90_000);
    rig.publish();
    rig.advance(2_000);
    rig.publish();
    expect(heard(published)).toMatchObject({
      "inverter.power": 400,
      "load.{id}.report water-heater": 0,
      "panel.{id}.report surplus": false,
    });
  });

  it("shows the power of a welded load that reports itself off, until its panel opens", () => {
    const { rig, published, command } = createRealRig();
    command("shed/contactor/set", "1");
    command("shed/heater/set", '{"stage":1}');
    rig.actuators.setFault({ kind: "load", index: 0 }, { kind: "welded" });
    command("shed/heater/set", '{"stage":0}');
    rig.advance(2_000);
    rig.publish();
    expect(heard(published)).toMatchObject({
      "inverter.power": 1_400,
      "load.{id}.report water-heater": 0,
    });
    command("shed/contactor/set", "0");
    rig.advance(2_000);
    rig.publish();
    expect(heard(published)).toMatchObject({ "inverter.power": 400 });
  });
});
