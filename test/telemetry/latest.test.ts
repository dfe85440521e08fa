import { describe, expect, test, vi } from "vitest";
import type { SignalSettings } from "../../config/site-settings.ts";
import { createLatestTable } from "../../service/telemetry/latest.ts";
import { readObservation } from "../../service/telemetry/observe.ts";
import type { Circumstances } from "../../service/telemetry/observe.ts";
import { createManualClock } from "../support/manual-clock.ts";
import { testControl, testSignal, testSite } from "../support/site.ts";

/** As the scale of the signal makes them from percent. */
const SOC_95 = 95 * 0.01;
const SOC_70 = 70 * 0.01;

/** Nobody asks for anything. */
const QUIET: Circumstances = {
  monotonicMs: 0,
  wallMs: 0,
  isWallClockPlausible: true,
  localDay: 0,
  localMinute: 0,
  clockChangeMs: 0,
  clockShiftMin: 0,
  isBrokerConnected: true,
  loadRequest: () => ({ request: "none", forMs: 0 }),
  panelRequest: () => "none",
  unlearn: "none",
};

function setUp(signals: readonly SignalSettings[] = testSite().telemetry) {
  const clock = createManualClock();
  const requestTick = vi.fn<() => void>();
  const control = testControl();
  const nowMs = () => clock.monotonicMs();
  const wallMs = () => clock.wallMs();
  const onSensorChange = vi.fn<() => void>();
  const table = createLatestTable({
    signals,
    control,
    nowMs,
    wallMs,
    requestTick,
    onSensorChange,
  });
  const say = (topic: string, text: string, isRetained = false) => {
    table.receive({ topic, payload: new TextEncoder().encode(text), isRetained });
  };
  return { clock, table, say, requestTick, control };
}

describe("quality", () => {
  test("waiting until something comes, unmapped where nothing can come", () => {
    const { table } = setUp();
    expect(table.readNumber("battery.soc", null).quality).toBe("waiting");
    expect(table.readNumber("battery.temperature", null)).toEqual({
      value: 0,
      quality: "unmapped",
      ageMs: 0,
    });
    expect(table.readStage("battery.chargeStage", null).quality).toBe("unmapped");
    expect(table.readNumber("array.{id}.power", "no-such-array").quality).toBe("unmapped");
  });

  test("one message fills every signal that reads it", () => {
    const { table, say } = setUp();
    say("shed/battery", '{"soc":95,"v":54.1,"i":-12.5}');
    expect(table.readNumber("battery.soc", null)).toEqual({
      value: SOC_95,
      quality: "fresh",
      ageMs: 0,
    });
    expect(table.readNumber("battery.voltage", null).value).toBe(54.1);
    expect(table.readNumber("battery.current", null).value).toBe(-12.5);
  });

  test.each([
    [59_999, "fresh"],
    [60_000, "fresh"],
    [60_001, "stale"],
  ])("after %d ms of a limit of 60 s it is %s", (ms, quality) => {
    const { table, say, clock } = setUp();
    say("shed/battery", '{"soc":95}');
    clock.advance(ms);
    expect(table.readNumber("battery.soc", null)).toEqual({ value: SOC_95, quality, ageMs: ms });
  });

  test("a setting of the wall clock ages nothing", () => {
    const { table, say, clock } = setUp();
    say("shed/battery", '{"soc":95}');
    clock.setWallMs(0);
    expect(table.readNumber("battery.soc", null).quality).toBe("fresh");
  });

  test("an actuator's report does not age, but is in doubt after a break", () => {
    const { table, say, clock } = setUp();
    say("shed/heater", '{"stage":1}');
    say("shed/battery", '{"soc":95}');
    clock.advance(86_400_000);
    expect(table.readNumber("load.{id}.report", "water-heater").quality).toBe("fresh");
    say("shed/battery", '{"soc":95}');
    table.cut();
    expect(table.readNumber("load.{id}.report", "water-heater").quality).toBe("stale");
    expect(table.readNumber("battery.soc", null).quality).toBe("fresh");
    say("shed/heater", '{"stage":0}');
    expect(table.readNumber("load.{id}.report", "water-heater").quality).toBe("fresh");
  });

  test("out of range: the last good value stays, in doubt until the next good one", () => {
    const { table, say, clock } = setUp();
    say("shed/battery", '{"soc":95}');
    clock.advance(1_000);
    say("shed/battery", '{"soc":101}');
    expect(table.readNumber("battery.soc", null)).toEqual({
      value: SOC_95,
      quality: "implausible",
      ageMs: 1_000,
    });
    say("shed/battery", '{"soc":100}');
    expect(table.readNumber("battery.soc", null)).toEqual({ value: 1, quality: "fresh", ageMs: 0 });
    expect(table.ignoredCounts()["out-of-range"]).toBe(1);
  });

  test("what can't be read is counted, and the last good value kept and growing old", () => {
    const { table, say, clock } = setUp();
    say("shed/battery", '{"soc":95}');
    clock.advance(60_001);
    for (const text of ['{"soc":"95"}', '{"soc":null}', '{"soc":1e999}', "{", '{"v":54}']) {
      say("shed/battery", text);
    }
    const soc = table.readNumber("battery.soc", null);
    expect(soc).toEqual({ value: SOC_95, quality: "stale", ageMs: 60_001 });
    const ofSoc = table.views().find(({ signal }) => signal.key === "battery.soc");
    expect(ofSoc?.ignoredCount).toBe(5);
    expect(table.receivedCount()).toBe(6);
  });
});

/** MQTT 5.0 (OASIS Standard), 3.3.1.3: a message sent on subscribing has RETAIN 1. */
describe("a message that the broker had kept", () => {
  test("is not fresh, until the publisher itself speaks", () => {
    const { table, say } = setUp();
    say("shed/battery", '{"soc":95}', true);
    expect(table.readNumber("battery.soc", null)).toEqual({
      value: SOC_95,
      quality: "retained",
      ageMs: 0,
    });
    say("shed/battery", '{"soc":90}');
    expect(table.readNumber("battery.soc", null).quality).toBe("fresh");
  });

  test("does not take the place of a live value, nor renew it", () => {
    const { table, say, clock } = setUp();
    say("shed/battery", '{"soc":70}');
    clock.advance(50_000);
    say("shed/battery", '{"soc":95}', true);
    expect(table.readNumber("battery.soc", null)).toEqual({
      value: SOC_70,
      quality: "fresh",
      ageMs: 50_000,
    });
    clock.advance(10_001);
    expect(table.readNumber("battery.soc", null).quality).toBe("stale");
  });

  test("clears no doubt, and asks for no tick", () => {
    const { table, say, requestTick } = setUp();
    say("shed/battery", '{"soc":101}');
    requestTick.mockClear();
    say("shed/battery", '{"soc":10}', true);
    expect(table.readNumber("battery.soc", null).quality).toBe("implausible");
    expect(requestTick).not.toHaveBeenCalled();
  });
});

test("a forecast is read in the unit in which it is sent, and a day and a half old is too old", () => {
  const kWh = { topic: "weather/pv", scale: 1000 };
  const { clock, table, say, control } = setUp([
    testSignal("forecast.today", { ...kWh, field: "/today" }),
    testSignal("forecast.tomorrow", { ...kWh, field: "/tomorrow" }),
  ]);
  const look = () => readObservation(table, control, QUIET).forecast;
  expect(look().todayWh.quality).toBe("waiting");
  say("weather/pv", '{"today":21.5,"tomorrow":8}');
  expect(look().todayWh).toEqual({ value: 21_500, quality: "fresh", ageMs: 0 });
  expect(look().tomorrowWh).toEqual({ value: 8000, quality: "fresh", ageMs: 0 });
  clock.advance(36 * 3_600_000 + 1);
  expect(look().tomorrowWh.quality).toBe("stale");
});

/** MQTT 5.0, 3.3.1.1 and 4.3.2: a QoS 1 message may come twice, and not be marked as such. */
test("a message that comes twice changes nothing", () => {
  const { table, say, control } = setUp();
  const look = () => readObservation(table, control, QUIET);
  say("shed/battery", '{"soc":95,"v":54,"i":3}');
  say("shed/tank/c", "55");
  const once = look();
  say("shed/tank/c", "55");
  say("shed/battery", '{"soc":95,"v":54,"i":3}');
  expect(look()).toEqual(once);
});

describe("an early tick", () => {
  test.each([
    ["shed/battery", '{"v":47.9}', true],
    ["shed/battery", '{"v":48}', false],
    ["shed/battery", '{"v":58.1}', true],
    ["shed/battery", '{"soc":58.9}', true],
    ["shed/battery", '{"soc":59}', false],
    ["shed/battery", '{"soc":101}', true],
    ["shed/inverter", '{"ac":{"w":8000}}', false],
    ["shed/inverter", '{"ac":{"w":8001}}', true],
    ["shed/tank/c", "74.9", false],
    ["shed/tank/c", "75", true],
    ["shed/roof/w", "6000", false],
    ["shed/contactor", "0", true],
    ["shed/contactor", "1", false],
    ["shed/nobody", "1", false],
  ])("%s %s asks for one: %s", (topic, text, asks) => {
    const { say, requestTick } = setUp();
    say(topic, text);
    expect(requestTick).toHaveBeenCalledTimes(asks ? 1 : 0);
  });

  test("is asked for when a limit is crossed, not while it stays crossed", () => {
    const { say, requestTick } = setUp();
    for (const volts of [50, 47, 46, 47, 50, 47]) say("shed/battery", `{"v":${volts}}`);
    expect(requestTick).toHaveBeenCalledTimes(2);
  });

  test("is asked for by flags that interlock", () => {
    const flags = ["battery.dischargeBlocked", "inverter.fault", "generator.running"] as const;
    for (const key of flags) {
      const table = { kind: "booleanTable", table: { yes: true, no: false } } as const;
      const { say, requestTick } = setUp([
        testSignal(key, { topic: "shed/flag", decoding: table }),
      ]);
      say("shed/flag", "no");
      expect(requestTick).not.toHaveBeenCalled();
      say("shed/flag", "yes");
      expect(requestTick).toHaveBeenCalledTimes(1);
    }
  });
});

test("the observation follows the order of the settings", () => {
  const { table, say, control } = setUp();
  say("shed/roof/w", "3200");
  say("shed/tank/c", "61.5");
  say("shed/heater", '{"stage":2}');
  say("shed/contactor", "1");
  const observation = readObservation(table, control, {
    monotonicMs: 5,
    wallMs: 6,
    isWallClockPlausible: true,
    localDay: 7,
    localMinute: 8,
    clockChangeMs: 9,
    clockShiftMin: 10,
    isBrokerConnected: true,
    loadRequest: (id) =>
      id === "spring-pump" ? { request: "run", forMs: 60_000 } : { request: "none", forMs: 0 },
    panelRequest: () => "clear",
    unlearn: "base",
  });
  expect(observation.unlearn).toBe("base");
  expect(observation).toMatchObject({ monotonicMs: 5, wallMs: 6, localDay: 7, localMinute: 8 });
  expect(observation.sources.map(({ powerW }) => powerW.value)).toEqual([3200]);
  expect(observation.loads.map(({ tankTemperatureC }) => tankTemperatureC.quality)).toEqual([
    "fresh",
    "unmapped",
  ]);
  expect(observation.loads.map(({ reportedStage }) => reportedStage.value)).toEqual([2, 0]);
  expect(observation.loads.map(({ request }) => request)).toEqual(["none", "run"]);
  expect(observation.loads.map(({ requestForMs }) => requestForMs)).toEqual([0, 60_000]);
  expect(observation.panels.map(({ request }) => request)).toEqual(["clear"]);
  expect(observation.panels.map(({ isClosed }) => isClosed.value)).toEqual([true]);
});
