import { mkdtempSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { expect, test } from "vitest";
import { loadSite } from "../../config/load.ts";
import type { FeedSettings, SignalSettings } from "../../config/site-settings.ts";
import { UserError } from "../../service/errors.ts";
import { feedOf } from "../support/signal.ts";

const malga = loadSite({ path: "config/examples/malga.yaml" });
const tasmania = loadSite({ path: "config/examples/tasmania.yaml" });

function signal(of: readonly SignalSettings[], key: string): FeedSettings {
  const found = of.find((one) => one.key === key);
  if (found === undefined) throw new Error(`no signal ${key}`);
  return feedOf(found);
}

test("the goat dairy in SI numbers", () => {
  expect(malga.warnings).toEqual([]);
  const { battery, sources, inverter, panels, loads } = malga.control;
  expect(battery).toMatchObject({
    capacityAh: 400,
    floorFraction: 0.6,
    sunsetTargetFraction: 0.92,
    compensationVPerK: 0,
    absorptionVoltageV: 55.2,
    toleranceW: 80,
  });
  expect(sources).toEqual([
    { kind: "array", id: "roof", peakW: 6600, tiltDeg: 38, azimuthDeg: 172, currentLimitA: 130 },
  ]);
  expect(inverter).toMatchObject({ continuousW: 8000, surgeVA: 16_000, efficiencyFraction: 0.92 });
  // 40 A · 230 V · 80 %
  expect(panels.map(({ feederMaxW }) => feederMaxW)).toEqual([7360]);
  expect(loads.map(({ id, stagesW }) => [id, ...stagesW])).toEqual([
    ["water-heater", 1000, 2000],
    ["spring-pump", 750],
    ["whey-cooler", 500],
  ]);
  expect(loads[1]).toMatchObject({ minRestMs: 720_000, quotaRunMs: 5_400_000, startPowerVA: 4500 });
  expect(loads[2]?.windows).toEqual([{ fromMinute: 420, toMinute: 1260 }]);
  expect(malga.actuators[0]).toEqual({
    kind: "load",
    index: 0,
    id: "water-heater",
    topic: "shed/heater/set",
    payloads: ['{"stage": 0}', '{"stage": 1}', '{"stage": 2}'],
    setPoint: null,
    repeatMs: 30_000,
    holdMs: 90_000,
  });
  expect(malga.actuators.map(({ kind, index }) => `${kind} ${String(index)}`)).toEqual([
    "load 0",
    "load 1",
    "load 2",
    "panel 0",
  ]);
});

test("the smallholding in SI numbers", () => {
  expect(tasmania.warnings).toEqual([]);
  const { battery, sources, ruleCurve, staggerMs } = tasmania.control;
  expect(battery.voltageMode).toEqual({ startV: 51.6, stopV: 50.2 });
  // −4 mV for each of 24 cells
  expect(battery.compensationVPerK).toBe(-0.096);
  expect(battery.fullChargeEveryDays).toBe(7);
  expect(battery.resistanceOhm).toBe(0.012);
  expect(sources.map(({ kind, peakW }) => [kind, peakW])).toEqual([
    ["array", 3200],
    ["hydro", 420],
  ]);
  expect(ruleCurve.atFraction).toBe(0.93);
  expect(tasmania.control.inverter.legs.map(({ id }) => id)).toEqual(["a", "b"]);
  expect(tasmania.control.balance).toEqual({
    toleranceW: 150,
    toleranceFraction: 0.1,
    forMs: 180_000,
  });
  expect(tasmania.control.loads.map(({ id, legIndex }) => [id, legIndex])).toEqual([
    ["house-tank", 0],
    ["shed-heater", 1],
    ["wash-house", 1],
    ["orchard-pump", 0],
    ["workshop", 1],
  ]);
  expect(tasmania.actuators.find(({ id }) => id === "wash-house")?.setPoint).toMatchObject({
    unitW: 15,
    minW: 150,
    stepW: 15,
  });
  expect(staggerMs).toBe(45_000);
  expect(tasmania.broker).toMatchObject({ protocolVersion: 4, username: "bywash" });
  expect(tasmania.broker.passwordFile).toMatch(/config\/examples\/broker-password$/u);
});

test("units, signs and words of publishers become SI", () => {
  expect(signal(malga.telemetry, "battery.soc").decoding).toMatchObject({ scale: 0.01 });
  const table = tasmania.telemetry;
  expect(signal(table, "battery.voltage")).toMatchObject({ min: 36, max: 72 });
  expect(signal(table, "battery.voltage").decoding).toMatchObject({ scale: 0.001 });
  expect(signal(table, "battery.current").decoding).toMatchObject({ scale: -1, offset: 0 });
  expect(signal(table, "array.{id}.power").decoding).toMatchObject({ scale: 1000 });
  expect(signal(table, "inverter.power").decoding).toMatchObject({ scale: 0.1 });
  expect(signal(table, "generator.running").decoding).toEqual({
    kind: "booleanTable",
    table: { running: true, stopped: false },
  });
  expect(signal(table, "panel.{id}.report").decoding).toEqual({
    kind: "booleanTable",
    table: { closed: true, open: false },
  });
});

test("temperatures come in the publisher's scale", () => {
  const site = loadSite({
    path: "config/examples/tasmania.yaml",
    overrides: ["telemetry.battery.temperature.unit=°F"],
  });
  const { decoding } = signal(site.telemetry, "battery.temperature");
  if (decoding.kind !== "number") throw new Error("not a number");
  expect(212 * decoding.scale + decoding.offset).toBeCloseTo(100, 10);
  expect(32 * decoding.scale + decoding.offset).toBeCloseTo(0, 10);
});

test("chemistry fills in what the file leaves out", () => {
  const site = loadSite({
    path: "config/examples/malga.yaml",
    overrides: [
      "battery={chemistry: gel, capacity: 200 Ah, nominalVoltage: 48 V, floor: 60 %, sunsetTarget: 92 %}",
    ],
  });
  expect(site.control.battery).toMatchObject({
    absorptionVoltageV: 56.4,
    floatVoltageV: 54,
    compensationVPerK: -0.096,
    tailCurrentA: 4,
    lowVoltageV: 46.8,
    ratedHours: 20,
    peukertExponent: 1.15,
    floorMarginFraction: 0.01,
  });
});

test.each([
  ["no-such-file.yaml", "no such file"],
  ["config/examples", "a folder"],
  ["package.json/x", "a path through something that is no folder"],
])("%s cannot be read: %s", (path, found) => {
  expect(() => loadSite({ path })).toThrow(
    expect.objectContaining({
      problems: [expect.objectContaining({ code: "file-unreadable", where: path, found })],
    }),
  );
});

test("bytes that are no UTF-8 are refused", () => {
  const path = join(mkdtempSync(join(tmpdir(), "bywash-")), "site.yaml");
  writeFileSync(path, Buffer.from([0xff, 0xfe, 0x76, 0x00]));
  expect(() => loadSite({ path })).toThrow(UserError);
});
