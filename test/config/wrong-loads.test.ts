/** Wrong settings of loads, battery and inverter: values that can never work, or that nobody keeps. */
import { expect, test } from "vitest";
import { validSite } from "./valid-site.ts";
import { changed, expectRefused, parse, rowsOf } from "./wrong-rows.ts";
import type { Row } from "./wrong-rows.ts";

const VALID = validSite(
  `loads:
  - id: heater
    kind: switched
    leg: l1
    power: 2 kW
    startsPerDay: 12
    tank:
      sensor: { topic: shed/tank, unit: "°C" }
      volume: 200 L
      surplus: 58 °C
      limit: 65 °C
      hardwareLimit: 85 °C
    command: { topic: shed/heater/set, on: "1", off: "0", hold: 90 s }
    report: { topic: shed/heater }
  - id: press
    kind: switched
    leg: l2
    power: 1.5 kW
    powerFactor: 0.75
    startPower: { power: 6 kVA, for: 3 s }
    tolerant: false
    command: { topic: shed/press/set, on: "1", off: "0", hold: 90 s }
    report: { topic: shed/press }
`,
  {
    site:
      "site: { id: malga, latitude: 44.2, longitude: 6.9, elevation: 1350 m, " +
      "timeZone: Europe/Rome }",
    battery: `battery:
  chemistry: lfp
  capacity: 400 Ah
  nominalVoltage: 51.2 V
  floor: 60 %
  sunsetTarget: 92 %
  chargeLimit: 200 A
  dischargeLimit: 250 A`,
    inverter: `inverter:
  continuous: 8 kW
  apparentPower: 10 kVA
  surge: 16 kVA
  maxInput: 66 V
  temperatureMax: 70 °C
  derating: { above: 40 °C, perK: 1 % }
  altitudeDerating: { above: 1000 m, per100m: 1 % }
  legs:
    - { id: l1, continuous: 5 kVA }
    - { id: l2, continuous: 5.5 kVA }`,
    ruleCurve: `ruleCurve: { mode: fixed, at: 94 % }
balance: { mode: watch, tolerance: 200 W, share: 12 %, for: 4 min }`,
    telemetry: `telemetry:
  battery.soc: { topic: shed/battery, field: /soc, unit: "%" }
  battery.voltage: { topic: shed/battery, field: /v, unit: V }
  battery.current: { topic: shed/battery, field: /i, unit: A }
  battery.chargeLimit: { topic: shed/battery, field: /allowsIn, unit: A }
  battery.dischargeLimit: { topic: shed/battery, field: /allowsOut, unit: A }
  array.roof.power: { topic: shed/roof, unit: W }
  inverter.power: { topic: shed/inverter, field: /w, unit: W }
  inverter.temperature: { topic: shed/inverter, field: /t, unit: "°C" }
  leg.l1.power: { topic: shed/inverter, field: /l1, unit: W }
  leg.l2.power: { topic: shed/inverter, field: /l2, unit: W }
  dcLoads.power: { topic: shed/dc, unit: W }`,
  },
);

const row = rowsOf(VALID);

const POWER_ROWS: readonly Row[] = [
  row("chargeLimit: 200 A", "chargeLimit: ‸20 A", "limit-under-tail battery.chargeLimit 20 A"),
  row("dischargeLimit: 250 A", "dischargeLimit: ‸250", "unit-missing battery.dischargeLimit 250 A"),
  row(
    "apparentPower: 10 kVA",
    "apparentPower: ‸7 kVA",
    "apparent-under-continuous inverter.apparentPower 8 kW",
  ),
  row("surge: 16 kVA", "surge: ‸9 kVA", "surge-under-continuous inverter.surge 10 kVA"),
  row("maxInput: 66 V", "maxInput: ‸57 V", "voltages-not-rising inverter.maxInput 57.6 V"),
  row(
    "  inverter.temperature: {",
    "  inverter.frequency: {",
    "20:13 derating-not-measured inverter.derating inverter.temperature",
  ),
  row(
    "temperatureMax: 70 °C\n  derating: { above: 40 °C",
    "temperatureMax: 70 °C\n  derating: { above: ‸70 °C",
    "limits-crossed inverter.derating.above 70 °C",
  ),
  row("perK: 1 %", "perK: ‸1 K", "wrong-unit inverter.derating.perK share"),
  row("above: 40 °C, ", "", "20:3 missing-key inverter.derating.above full rating"),
  row("per100m: 1 %", "per100m: ‸2 %", "out-of-range inverter.altitudeDerating.per100m 1.5 %"),
  row("id: l2,", "id: ‸l1,", "duplicate-id inverter.legs.l1.id no other leg"),
  row("continuous: 5 kVA", "continuous: ‸11 kVA", "leg-over-whole inverter.legs.l1.continuous 10"),
  row("continuous: 5 kVA", "continuous: 4 kVA", "23:5 legs-under-whole inverter.legs 9.5 kVA"),
  row(
    "    - { id: l1, continuous: 5 kVA }\n    - { id: l2, continuous: 5.5 kVA }\n",
    "    ‸- { id: l1, continuous: 10 kVA }\n",
    "single-leg inverter.legs two or three",
  ),
  row(
    "  leg.l2.power: {",
    "  generator.power: {",
    "24:13 leg-not-measured inverter.legs.l2.id leg.l2.power",
  ),
  row("leg.l1.power", "‸leg.l3.power", "unknown-signal telemetry.leg.l3.power leg.l1.power?"),
  row(
    "  array.roof.power: {",
    "  generator.power: {",
    "26:18 balance-not-measured balance.mode array.roof.power",
  ),
  row(
    "  dcLoads.power: { topic: shed/dc, unit: W }\n",
    "  generator.running: { topic: shed/generator }\n",
    "26:18 balance-not-measured balance.mode generator.power",
  ),
  row("mode: watch", "mode: ‸on", "unknown-value balance.mode watch, ignore"),
  row("share: 12 %", "share: ‸80 %", "out-of-range balance.share 50 %"),
];

const LOAD_ROWS: readonly Row[] = [
  row("leg: l2", "leg: ‸l3", "unknown-leg loads.press.leg l1, l2"),
  row("powerFactor: 0.75", "powerFactor: ‸1.2", "out-of-range loads.press.powerFactor at most 1"),
  row("powerFactor: 0.75", "powerFactor: ‸0", "out-of-range loads.press.powerFactor at least 0.1"),
  row("powerFactor: 0.75", "powerFactor: ‸75 %", "wrong-type loads.press.powerFactor a number"),
  row("power: 6 kVA", "power: ‸16 kVA", "never-fits loads.press.startPower.power 15.44 kVA"),
  row("power: 6 kVA", "power: ‸1.8 kVA", "start-under-rated loads.press.startPower.power 2 kVA"),
  row("power: 6 kVA, for", "‸pover: 6 kVA, for", "unknown-key loads.press.startPower.pover power?"),
  row(
    "{ power: 6 kVA, for: 3 s }",
    "‸6000",
    "unit-missing loads.press.startPower (W, kW, VA, kVA)",
  ),
  row("{ power: 6 kVA, for: 3 s }", "‸true", "wrong-type loads.press.startPower while it starts"),
  row("for: 3 s", "for: ‸3 min", "out-of-range loads.press.startPower.for 1 min"),
  row("power: 1.5 kW", "power: ‸4 kW", "never-fits loads.press.power powerFactor 0.75"),
  row("power: 2 kW", "power: ‸5 kW", "never-fits loads.heater.power 4.825 kVA"),
  row("power: 2 kW", "power: ‸7.8 kW", "never-fits loads.heater.power 7.72 kW"),
  row("startsPerDay: 12", "startsPerDay: ‸0", "out-of-range loads.heater.startsPerDay at least 1"),
  row("tolerant: false", "tolerant: ‸never", "wrong-type loads.press.tolerant true or false"),
  row("volume: 200 L", "volume: ‸200", "unit-missing loads.heater.tank.volume 200 L"),
  row("volume: 200 L", "volume: ‸2 L", "out-of-range loads.heater.tank.volume 5 L"),
];

test("the file that the rows change is valid and has no warnings", () => {
  expect(parse(VALID).warnings).toEqual([]);
});

test.each([...POWER_ROWS, ...LOAD_ROWS])("$code at $key ($to)", (wrong) => {
  expectRefused(VALID, wrong);
});

test.each([
  ["tolerant: false", "tolerant: true", "wears from tries"],
  ["elevation: 1350 m", "elevation: 350 m", "site.elevation is 350 m"],
])("%j to %j is allowed with a warning", (from, to, says) => {
  const { warnings } = parse(changed(VALID, from, to));
  expect(warnings).toHaveLength(1);
  expect(warnings[0]).toContain(says);
});

test("battery, inverter and balance in SI numbers, at the altitude of the place", () => {
  const { battery, inverter, balance } = parse(VALID).control;
  expect(battery).toMatchObject({ chargeLimitA: 200, dischargeLimitA: 250 });
  // 1350 m is 350 m above the limit: 3.5 % less.
  expect(inverter).toEqual({
    continuousW: 7720,
    continuousVA: 9650,
    surgeVA: 15_440,
    derating: { aboveC: 40, perKFraction: 0.01 },
    maxInputV: 66,
    legs: [
      { id: "l1", continuousVA: 4825 },
      { id: "l2", continuousVA: 5307.5 },
    ],
    idleW: 30,
    efficiencyFraction: 0.92,
    temperatureMaxC: 70,
    acVoltage: null,
    frequency: null,
  });
  expect(balance).toEqual({ toleranceW: 200, toleranceFraction: 0.12, forMs: 240_000 });
});

test("the balance is watched unless told otherwise, and only where all of it is measured", () => {
  const usual = { toleranceW: 150, toleranceFraction: 0.1, forMs: 180_000 };
  const written = "balance: { mode: watch, tolerance: 200 W, share: 12 %, for: 4 min }\n";
  const silent = changed(VALID, written, "");
  expect(parse(silent).control.balance).toEqual(usual);
  expect(parse(changed(silent, "  array.roof.power:", "  generator.power:")).control.balance).toBe(
    null,
  );
  expect(parse(changed(VALID, "mode: watch", "mode: ignore")).control.balance).toBe(null);
});

test("loads in SI numbers", () => {
  const [heater, press] = parse(VALID).control.loads;
  expect(heater).toMatchObject({
    legIndex: 0,
    powerFactor: 1,
    startPowerVA: null,
    startPowerMs: 0,
    isTolerant: true,
    startsPerDayMax: 12,
    tank: { surplusC: 58, hysteresisK: 2, limitC: 65, volumeL: 200 },
  });
  expect(press).toMatchObject({
    legIndex: 1,
    powerFactor: 0.75,
    startPowerVA: 6000,
    startPowerMs: 3000,
    isTolerant: false,
    startsPerDayMax: null,
  });
  const short = parse(changed(VALID, "{ power: 6 kVA, for: 3 s }", "6 kVA")).control.loads[1];
  expect(short).toMatchObject({ startPowerVA: 6000, startPowerMs: 2000 });
});
