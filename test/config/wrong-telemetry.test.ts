/** Wrong settings of wildcards, stamps, replacements and sums; and what right ones come to. */
import { expect, test } from "vitest";
import type { FeedSettings } from "../../config/site-settings.ts";
import { validSite } from "./valid-site.ts";
import { changed, expectRefused, parse, rowsOf } from "./wrong-rows.ts";
import type { Row } from "./wrong-rows.ts";

const VALID = validSite(
  `loads:
  - id: pump
    kind: switched
    power: 750 W
    command: { topic: spring/pump/set, on: "1", off: "0", hold: 90 s }
    report:
      topic: spring/pump
      field: /on
      stamp: { field: /t, form: seconds }
    meter:
      topic: spring/meter
      unit: W
      fallback: [{ topic: spring/spare/+, unit: kW }]
`,
  {
    telemetry: `telemetry:
  battery.soc:
    topic: shed/+/gauge
    field: /soc
    unit: "%"
    stamp: { field: /at, form: rfc3339, ahead: 10 s }
  battery.voltage:
    topic: shed/bank/v
    unit: V
    maxChange: { by: 2 V, in: 1 s }
    frozen: 30 min
    fallback:
      - { topic: shed/inverter, field: /dc/v, unit: mV, stale: 20 s }
      - combine: mean
        of:
          - { topic: shed/east/v, unit: V, weight: 2 }
          - { topic: shed/west/v, unit: V }
  battery.current:
    combine: sum
    of:
      - { topic: shed/east/i, unit: A, positive: discharging, range: { min: -200 A, max: 200 A } }
      - { topic: shed/west/i, unit: A, positive: discharging }
  battery.temperature: { topic: shed/bank/c, unit: "°C", maxChange: { by: 5 K, in: 1 min } }
  battery.chargeBlocked: { topic: shed/bank/full, values: { "y": true, "n": false } }
  inverter.power: { topic: shed/inverter, field: /ac/w, unit: W }`,
  },
);

const row = rowsOf(VALID);

const CURVE = "ruleCurve: { mode: fixed, at: 94 % }";

const ROWS: readonly Row[] = [
  row(
    CURVE,
    `irradianceSensor: ‸{ tilt: 38 deg, azimuth: 172 deg }\n${CURVE}`,
    "sensor-not-mapped irradianceSensor sky.irradiance",
  ),
  row(
    CURVE,
    `irradianceSensor: { tilt: ‸38, azimuth: 9 deg }\n${CURVE}`,
    "unit-missing irradianceSensor.tilt deg",
  ),
  row("shed/+/gauge", '‸"shed/a+/gauge"', "wrong-text telemetry.battery.soc.topic + alone"),
  row("shed/+/gauge", '‸"shed/#/gauge"', "wrong-text telemetry.battery.soc.topic # alone"),
  row("shed/+/gauge", '‸"$SYS/+"', "wrong-text telemetry.battery.soc.topic starting with $"),
  row("shed/+/gauge", '‸"+/pump/set"', "command-as-source telemetry.battery.soc.topic answers"),
  row("shed/+/gauge", '‸"spring/#"', "command-as-source telemetry.battery.soc.topic answers"),
  row("shed/+/gauge", '‸"#"', "topic-reserved telemetry.battery.soc.topic outside"),
  row("shed/+/gauge", '‸"+/malga/gauge"', "topic-reserved telemetry.battery.soc.topic outside"),
  row(
    "spring/pump/set",
    '‸"spring/+/set"',
    "wrong-text loads.pump.command.topic without wildcards",
  ),
  row(
    "shed/east/v",
    '‸"shed/+/v"',
    "source-shared telemetry.battery.voltage.fallback.[1].of.[0].topic",
  ),
  row("spring/spare/+", '‸"spring/#"', "source-shared loads.pump.meter.fallback.[0].topic"),
  row("field: /at,", 'field: ‸"at",', "wrong-text telemetry.battery.soc.stamp.field /at"),
  row("form: rfc3339", "form: ‸rfc3340", "unknown-value telemetry.battery.soc.stamp.form rfc3339?"),
  row("ahead: 10 s", "ahead: ‸10", "unit-missing telemetry.battery.soc.stamp.ahead 10 s"),
  row("ahead: 10 s", "ahead: ‸2 h", "out-of-range telemetry.battery.soc.stamp.ahead 1 h"),
  row("field: /at, form", "form", "19:5 missing-key telemetry.battery.soc.stamp.field"),
  row(
    "      field: /on\n      stamp",
    "      ‸stamp",
    "key-does-not-fit loads.pump.report.stamp no room for a time",
  ),
  row("by: 2 V", "by: ‸2", "wrong-unit telemetry.battery.voltage.maxChange.by 2 V"),
  row("by: 2 V", "by: ‸2 A", "wrong-unit telemetry.battery.voltage.maxChange.by a voltage"),
  row("by: 2 V", "by: ‸0 V", "out-of-range telemetry.battery.voltage.maxChange.by more than 0"),
  row("by: 5 K", "by: ‸5 °C", "wrong-unit telemetry.battery.temperature.maxChange.by K"),
  row("in: 1 s", "in: ‸0 s", "out-of-range telemetry.battery.voltage.maxChange.in 1 ms"),
  row("frozen: 30 min", "frozen: ‸30", "unit-missing telemetry.battery.voltage.frozen 30 min"),
  row(
    "shed/bank/full, values",
    "shed/bank/full, ‸frozen: 30 min, values",
    "key-does-not-fit telemetry.battery.chargeBlocked.frozen numbers",
  ),
  row(
    "shed/bank/full, values",
    "shed/bank/full, ‸maxChange: { by: 1 V, in: 1 s }, values",
    "key-does-not-fit telemetry.battery.chargeBlocked.maxChange numbers",
  ),
  row(
    'topic: shed/bank/full, values: { "y": true, "n": false }',
    "combine: ‸lowest, of: [{ topic: a }, { topic: b }]",
    "combine-does-not-fit telemetry.battery.chargeBlocked.combine only numbers",
  ),
  row(
    "combine: mean",
    "combine: ‸sum",
    "combine-does-not-fit telemetry.battery.voltage.fallback.[1].combine added up",
  ),
  row("combine: sum", "combine: ‸total", "unknown-value telemetry.battery.current.combine sum"),
  row("    combine: sum\n", "", "31:3 missing-key telemetry.battery.current.combine both"),
  row(
    "    combine: sum\n",
    "    combine: sum\n    ‸topic: shed/all/i\n",
    "key-does-not-fit telemetry.battery.current.topic each part",
  ),
  row(
    "    combine: sum\n",
    "    combine: sum\n    ‸stale: 20 s\n",
    "key-does-not-fit telemetry.battery.current.stale each part",
  ),
  row(
    "shed/west/i, unit: A",
    "shed/west/i, ‸weight: 2, unit: A",
    "key-does-not-fit telemetry.battery.current.of.[1].weight mean",
  ),
  row(
    "weight: 2",
    "weight: ‸0",
    "out-of-range telemetry.battery.voltage.fallback.[1].of.[0].weight",
  ),
  row(
    "      - { topic: shed/west/i, unit: A, positive: discharging }\n",
    "",
    "34:7 out-of-range telemetry.battery.current.of at least 2",
  ),
  row(
    "shed/west/i, unit: A",
    "shed/west/i, ‸fallback: [{ topic: x, unit: A }], unit: A",
    "nested-too-deep telemetry.battery.current.of.[1].fallback only at the signal itself",
  ),
  row(
    "shed/west/v, unit: V",
    "shed/west/v, ‸combine: mean, unit: V",
    "nested-too-deep telemetry.battery.voltage.fallback.[1].of.[1].combine only there",
  ),
  row(
    "unit: mV, stale: 20 s",
    "unit: mV, ‸fallback: []",
    "nested-too-deep telemetry.battery.voltage.fallback.[0].fallback only at the signal",
  ),
  row(
    "field: /dc/v, unit: mV",
    "field: /dc/v, unit: ‸mW",
    "wrong-unit telemetry.battery.voltage.fallback.[0].unit mV",
  ),
  row(
    "{ topic: shed/inverter, field: /dc/v, unit: mV, stale: 20 s }",
    "{ field: /dc/v, unit: mV }",
    "26:9 missing-key telemetry.battery.voltage.fallback.[0].topic combine",
  ),
  row(
    "field: /dc/v, unit: mV,",
    "field: /dc/v, unit: mV, ‸positive: charging,",
    "key-does-not-fit telemetry.battery.voltage.fallback.[0].positive battery.current",
  ),
  row("    topic: shed/bank/v\n", "", "20:3 missing-key telemetry.battery.voltage.topic combine"),
];

test.each(ROWS)("$code at $key ($to)", (wrong) => {
  expectRefused(VALID, wrong);
});

test("the rows are all there", () => {
  expect(ROWS.length).toBe(42);
});

const FEED = {
  field: null,
  staleMs: 60_000,
  stamp: null,
  maxChange: null,
  frozenMs: null,
  weight: 1,
} as const;
const NUMBER = { kind: "number", scale: 1, offset: 0 } as const;

test("a right file comes to these sensors", () => {
  const site = parse(VALID);
  expect(site.warnings).toEqual([]);
  const sensors = (key: string) => site.telemetry.find((one) => one.key === key)?.sensors;
  const volts = { min: 25.6, max: 76.80000000000001 };
  const alone = (feed: FeedSettings) => {
    const { min, max } = feed;
    return { combine: "alone", feeds: [feed], min, max };
  };
  expect(sensors("battery.soc")).toEqual([
    alone({
      ...FEED,
      topic: "shed/+/gauge",
      field: "/soc",
      decoding: { kind: "number", scale: 0.01, offset: 0 },
      min: 0,
      max: 1,
      stamp: { field: "/at", form: "rfc3339", aheadMaxMs: 10_000 },
    }),
  ]);
  const bank = { ...FEED, ...volts, topic: "shed/bank/v", decoding: NUMBER };
  const milli = { kind: "number", scale: 0.001, offset: 0 } as const;
  expect(sensors("battery.voltage")).toEqual([
    alone({ ...bank, maxChange: { by: 2, inMs: 1_000 }, frozenMs: 1_800_000 }),
    alone({ ...bank, topic: "shed/inverter", field: "/dc/v", decoding: milli, staleMs: 20_000 }),
    {
      combine: "mean",
      feeds: [
        { ...bank, topic: "shed/east/v", weight: 2 },
        { ...bank, topic: "shed/west/v" },
      ],
      ...volts,
    },
  ]);
  const amps = { ...FEED, decoding: { kind: "number", scale: -1, offset: 0 } };
  expect(sensors("battery.current")).toEqual([
    {
      combine: "sum",
      feeds: [
        { ...amps, topic: "shed/east/i", min: -200, max: 200 },
        { ...amps, topic: "shed/west/i", min: -2000, max: 2000 },
      ],
      min: -2000,
      max: 2000,
    },
  ]);
  expect(sensors("battery.temperature")?.[0]?.feeds[0]?.maxChange).toEqual({ by: 5, inMs: 60_000 });
  expect(sensors("load.{id}.report")?.[0]?.feeds[0]?.stamp).toEqual({
    field: "/t",
    form: "seconds",
    aheadMaxMs: 5_000,
  });
  expect(sensors("load.{id}.power")?.[1]?.feeds[0]).toMatchObject({
    topic: "spring/spare/+",
    decoding: { scale: 1000 },
  });
});

test("a range of its own may be wider than a battery's usual one", () => {
  const site = parse(changed(VALID, "maxChange: { by: 2 V, in: 1 s }", "range: { max: 90 V }"));
  const [first] = site.telemetry.find(({ key }) => key === "battery.voltage")?.sensors ?? [];
  expect(first).toMatchObject({ min: 0, max: 90, feeds: [{ min: 0, max: 90 }] });
});
