/** Wrong settings of pumps, modulating loads and sockets; and what right ones come to. */
import { expect, test } from "vitest";
import { feedOf } from "../support/signal.ts";
import { validSite } from "./valid-site.ts";
import { changed, expectRefused, parse, rowsOf } from "./wrong-rows.ts";
import type { Row } from "./wrong-rows.ts";

const VALID = validSite(
  `panels:
  - id: surplus
    breaker: 20 A
    voltage: 230 V
    contactor: { command: { topic: shed/panel/set, on: "1", off: "0", hold: 90 s } }
loads:
  - id: whey-vat
    kind: modulating
    power: { least: 200 W, most: 3 kW, step: 20 W, fullRise: 140 s }
    command:
      topic: dairy/vat/set
      payload: '{"duty": {{percent}}}'
      decimals: 2
      off: '{"duty": "none"}'
      hold: 90 s
    report: { topic: dairy/vat, field: /w }
  - id: pump
    kind: switched
    power: 750 W
    startPower: 4.5 kVA
    pump:
      dryRun: { below: 400 W, for: 12 s }
      sourceLow: { topic: spring/low, on: wet, off: dry }
      level:
        sensor: { topic: cistern/level, unit: "%" }
        full: 96 %
        resume: 82 %
      pipe: { sensor: { topic: pipe/c, unit: "°C" }, min: 3 °C }
    command: { topic: shed/pump/set, on: "1", off: "0", hold: 90 s }
    meter: { topic: shed/pump/w, unit: W }
  - id: workshop
    kind: sockets
    panel: surplus
    expected: 300 W
    maximum: 2 kW
    minRun: 12 min
    warnBefore: { topic: workshop/lamp/set, on: light, off: dark, hold: 75 s, for: 3 min }
    finishGrace: 10 min
    request: { topic: workshop/button, on: pressed, lasts: 90 min }
    command: { topic: workshop/set, on: "1", off: "0", hold: 90 s }
    meter: { topic: workshop/watts, unit: W }
`,
);

const row = rowsOf(VALID);

const MODULATING_ROWS: readonly Row[] = [
  row("most: 3 kW", "most: ‸200 W", "least-over-most loads.whey-vat.power.most 200 W"),
  row("most: 3 kW", "most: ‸9 kW", "never-fits loads.whey-vat.power.most 8 kW"),
  row("least: 200 W, ", "", "27:5 missing-key loads.whey-vat.power.least Least AC power"),
  row("step: 20 W", "step: ‸2.9 kW", "step-too-wide loads.whey-vat.power.step 2.8 kW"),
  row("decimals: 2", "decimals: 0", "27:46 step-too-fine loads.whey-vat.power.step 30 W"),
  row("decimals: 2", "decimals: ‸4", "out-of-range loads.whey-vat.command.decimals at most 3"),
  row("fullRise: 140 s", "fullRise: ‸140", "unit-missing loads.whey-vat.power.fullRise 140 s"),
  row(
    "{ least: 200 W, most: 3 kW, step: 20 W, fullRise: 140 s }",
    "‸3 kW",
    "wrong-type loads.whey-vat.power a map",
  ),
  row("{{percent}}", "{{amps}}", "28:5 missing-key loads.whey-vat.command.voltage 230 V"),
  row(
    "decimals: 2",
    "‸voltage: 230 V",
    "key-does-not-fit loads.whey-vat.command.voltage only with {{amps}}",
  ),
  row(
    `'{"duty": {{percent}}}'`,
    `‸'{"duty": {{stage}}}'`,
    "wrong-text loads.whey-vat.command.payload {{watts}}",
  ),
  row(
    `'{"duty": {{percent}}}'`,
    `‸'{"duty": {{percent}}, "w": {{watts}}}'`,
    "wrong-text loads.whey-vat.command.payload one {{percent}}",
  ),
  row(`'{"duty": "none"}'`, `‸'{"duty": 10}'`, "texts-alike loads.whey-vat.command.off 300 W"),
  row(
    "field: /w }",
    "field: /w, ‸on: heats }",
    "34:5 missing-key loads.whey-vat.report.off both on and off",
  ),
  row(
    "    report: { topic: dairy/vat, field: /w }",
    "    ‸stages: [1 kW]",
    "key-does-not-fit loads.whey-vat.stages staged",
  ),
];

const PUMP_ROWS: readonly Row[] = [
  row("below: 400 W", "below: ‸400", "wrong-unit loads.pump.pump.dryRun.below 5 L/min"),
  row("below: 400 W", "below: ‸0 W", "wrong-unit loads.pump.pump.dryRun.below above 0"),
  row("below: 400 W", "below: ‸750 W", "dry-run-over-rated loads.pump.pump.dryRun.below 750 W"),
  row(
    "below: 400 W",
    "below: ‸5 L/min",
    "dry-run-not-measured loads.pump.pump.dryRun.below pump.flow",
  ),
  row(
    "    meter: { topic: shed/pump/w, unit: W }",
    "    report: { topic: shed/pump }",
    "40:24 dry-run-not-measured loads.pump.pump.dryRun.below meter",
  ),
  row("for: 12 s", "for: ‸10 min", "dry-run-late loads.pump.pump.dryRun.for minRun, 10 min"),
  row("for: 12 s", "for: ‸100 ms", "out-of-range loads.pump.pump.dryRun.for 1 s"),
  row("resume: 82 %", "resume: ‸96 %", "level-crossed loads.pump.pump.level.resume 96 %"),
  row("full: 96 %", "full: ‸0.96", "unit-missing loads.pump.pump.level.full 96 %"),
  row(
    'level, unit: "%" }',
    "level, unit: ‸L }",
    "wrong-unit loads.pump.pump.level.sensor.unit one of 1, %",
  ),
  row(
    "        sensor: { topic: cistern/level",
    "        probe: { topic: cistern/level",
    "42:7 missing-key loads.pump.pump.level.sensor level arrives",
  ),
  row("off: dry }", "off: ‸wet }", "texts-alike loads.pump.pump.sourceLow.off another text"),
  row("min: 3 °C", "min: ‸40 °C", "out-of-range loads.pump.pump.pipe.min 20 °C"),
  row(
    "      sourceLow:",
    "      ‸flow: { topic: spring/flow, unit: L/min }\n      sourceLow:",
    "key-does-not-fit loads.pump.pump.flow only with dryRun.below in L/min",
  ),
  row("    startPower: 4.5 kVA\n", "    ‸dryRun: {}\n", "unknown-key loads.pump.dryRun one of"),
  row(
    "    startPower: 4.5 kVA\n    pump:\n",
    `    tank:
      sensor: { topic: shed/tank, unit: "°C" }
      surplus: 58 °C
      limit: 65 °C
      hardwareLimit: 85 °C
    ‸pump:\n`,
    "key-does-not-fit loads.pump.pump either tank or pump",
  ),
];

const SOCKETS_ROWS: readonly Row[] = [
  row("maximum: 2 kW", "maximum: ‸250 W", "maximum-under-expected loads.workshop.maximum 300 W"),
  row("maximum: 2 kW", "maximum: ‸9 kW", "never-fits loads.workshop.maximum 8 kW"),
  row("maximum: 2 kW", "maximum: ‸3.7 kW", "never-fits loads.workshop.maximum 3.68 kW"),
  row("    expected: 300 W\n", "", "49:5 missing-key loads.workshop.expected usually in use"),
  row(
    "    meter: { topic: workshop/watts, unit: W }",
    "    report: { topic: workshop }",
    "56:18 grace-not-measured loads.workshop.finishGrace meter",
  ),
  row("for: 3 min", "for: ‸1 s", "warning-short loads.workshop.warnBefore.for 2 s"),
  row("hold: 75 s", "hold: ‸60 s", "hold-short loads.workshop.warnBefore.hold 75 s"),
  row("off: dark", "off: ‸light", "texts-alike loads.workshop.warnBefore.off another payload"),
  row(
    "topic: workshop/lamp/set",
    "topic: ‸workshop/set",
    "command-shared loads.workshop.warnBefore.topic another actuator",
  ),
  row("lasts: 90 min", "lasts: ‸10 min", "request-under-run loads.workshop.request.lasts 12 min"),
  row(
    "topic: workshop/button",
    "topic: ‸workshop/lamp/set",
    "command-as-source loads.workshop.request.topic device answers",
  ),
  row(
    "    minRun: 12 min\n",
    "    ‸startPower: 3 kVA\n",
    "key-does-not-fit loads.workshop.startPower switched, staged, modulating",
  ),
  row(
    "    minRun: 12 min\n",
    "    ‸tolerant: true\n",
    "key-does-not-fit loads.workshop.tolerant switched, staged, modulating",
  ),
  row("kind: sockets", "kind: ‸socket", "unknown-value loads.workshop.kind mean sockets?"),
];

test("the file that the rows change is valid and has no warnings", () => {
  expect(parse(VALID).warnings).toEqual([]);
});

test.each([...MODULATING_ROWS, ...PUMP_ROWS, ...SOCKETS_ROWS])("$code at $key ($to)", (wrong) => {
  expectRefused(VALID, wrong);
});

test("sockets without a meter are allowed with a warning", () => {
  const bare = changed(VALID, "    finishGrace: 10 min\n", "");
  const { warnings } = parse(changed(bare, "workshop/watts, unit: W", "workshop/x, unit: W"));
  expect(warnings).toEqual([]);
  const unmetered = changed(
    bare,
    "    meter: { topic: workshop/watts, unit: W }",
    "    report: { topic: workshop }",
  );
  expect(parse(unmetered).warnings).toEqual([
    expect.stringContaining("has no effect while they are live"),
  ]);
});

const USUAL = {
  priority: 1,
  powerFactor: 1,
  panelIndex: null,
  modulating: null,
  startPowerVA: null,
  startPowerMs: 0,
  legIndex: null,
  isTolerant: false,
  startAboveFraction: 0.02,
  startForMs: 120_000,
  stopBelowFraction: 0.02,
  stopForMs: 60_000,
  minRunMs: 600_000,
  minRestMs: 300_000,
  startsPerHourMax: null,
  startsPerDayMax: null,
  windows: [],
  quotaRunMs: null,
  quotaEnergyWh: null,
  deadline: null,
  tank: null,
  pump: null,
  sockets: null,
  settleMs: 10_000,
  hasReport: false,
  hasMeter: false,
  hasByHandInput: false,
  latchAfter: 3,
  mayLoadGenerator: false,
};

test("each kind of load comes to exactly these settings", () => {
  expect(parse(VALID).control.loads).toEqual([
    {
      ...USUAL,
      id: "whey-vat",
      label: "whey-vat",
      stagesW: [200],
      modulating: { minW: 200, maxW: 3000, stepW: 20, riseWPerS: 20 },
      isTolerant: true,
      hasReport: true,
    },
    {
      ...USUAL,
      id: "pump",
      label: "pump",
      priority: 2,
      stagesW: [750],
      startPowerVA: 4500,
      startPowerMs: 2000,
      pump: {
        dryRun: { belowW: 400, belowLPerMin: null, forMs: 12_000 },
        hasSourceContact: true,
        level: { fullFraction: 0.96, resumeFraction: 0.82 },
        pipeMinC: 3,
      },
      hasMeter: true,
    },
    {
      ...USUAL,
      id: "workshop",
      label: "workshop",
      priority: 3,
      panelIndex: 0,
      stagesW: [300],
      minRunMs: 720_000,
      sockets: {
        maximumW: 2000,
        warnMs: 180_000,
        finishGraceMs: 600_000,
        hasRequest: true,
        requestMs: 5_400_000,
      },
      hasMeter: true,
    },
  ]);
});

test("each actuator is commanded as the file says", () => {
  const { actuators } = parse(VALID);
  const timing = { repeatMs: 30_000, holdMs: 90_000 };
  expect(actuators).toEqual([
    {
      kind: "load",
      index: 0,
      id: "whey-vat",
      topic: "dairy/vat/set",
      payloads: ['{"duty": "none"}'],
      setPoint: {
        payload: ['{"duty": ', "}"],
        unitW: 30,
        decimals: 2,
        minW: 200,
        stepW: 20,
      },
      ...timing,
    },
    {
      kind: "load",
      index: 1,
      id: "pump",
      topic: "shed/pump/set",
      payloads: ["0", "1"],
      setPoint: null,
      ...timing,
    },
    {
      kind: "load",
      index: 2,
      id: "workshop",
      topic: "workshop/set",
      payloads: ["0", "1"],
      setPoint: null,
      ...timing,
    },
    {
      kind: "warning",
      index: 2,
      id: "workshop",
      topic: "workshop/lamp/set",
      payloads: ["dark", "light"],
      setPoint: null,
      repeatMs: 30_000,
      holdMs: 75_000,
    },
    {
      kind: "panel",
      index: 0,
      id: "surplus",
      topic: "shed/panel/set",
      payloads: ["0", "1"],
      setPoint: null,
      ...timing,
    },
  ]);
});

test("without words of its own a set-point is switched off by 0", () => {
  const inWatts = changed(VALID, "{{percent}}", "{{watts}}");
  const silent = changed(inWatts, `      off: '{"duty": "none"}'\n`, "");
  const inAmps = changed(silent, "{{watts}}", "{{amps}}");
  const [watts] = parse(silent).actuators;
  expect(watts).toMatchObject({ payloads: ['{"duty": 0}'], setPoint: { unitW: 1, decimals: 2 } });
  const [amps] = parse(
    changed(inAmps, "decimals: 2", "decimals: 2\n      voltage: 230 V"),
  ).actuators;
  expect(amps?.setPoint).toMatchObject({ unitW: 230, decimals: 2 });
});

test("the signals of pump, button and set power are read as they are sent", () => {
  const decodings = new Map(
    parse(VALID).telemetry.map((signal) => [
      signal.key.replace("{id}", signal.ownerId ?? ""),
      feedOf(signal).decoding,
    ]),
  );
  expect(decodings.get("load.whey-vat.report")).toEqual({ kind: "aboveZero" });
  expect(decodings.get("load.pump.sourceLow")).toEqual({
    kind: "booleanTable",
    table: { wet: true, dry: false },
  });
  expect(decodings.get("load.pump.level")).toEqual({ kind: "number", scale: 0.01, offset: 0 });
  expect(decodings.get("load.pump.pipeTemperature")).toMatchObject({ kind: "number" });
  expect(decodings.get("load.workshop.pressed")).toEqual({
    kind: "booleanTable",
    table: { pressed: true },
  });
});

test("a pump may be watched by its flow", () => {
  const byFlow = changed(
    VALID,
    "dryRun: { below: 400 W, for: 12 s }",
    "dryRun: { below: 5 L/min }\n      flow: { topic: spring/flow, unit: L/min }",
  );
  expect(parse(byFlow).control.loads[1]?.pump?.dryRun).toEqual({
    belowW: null,
    belowLPerMin: 5,
    forMs: 10_000,
  });
});
