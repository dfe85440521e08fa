import { describe, expect, test } from "vitest";
import { SITE_CODES } from "../../service/control/site-codes.ts";
import { METRICS } from "../../service/web/metric-table.ts";
import { createMetrics } from "../../service/web/metrics.ts";
import { readExposition } from "../support/exposition.ts";
import type { ExposedMetric } from "../support/exposition.ts";
import { decisionOf } from "../support/scripted-step.ts";
import { createTestApp, stateOf } from "../support/web-app.ts";

type App = ReturnType<typeof createTestApp>["app"];

async function scrape(app: App): Promise<Map<string, ExposedMetric>> {
  const response = await app.inject("/metrics");
  expect(response.statusCode).toBe(200);
  expect(response.headers["content-type"]).toBe("text/plain; version=0.0.4; charset=utf-8");
  return readExposition(response.body);
}

function valueOf(metrics: Map<string, ExposedMetric>, name: string, labels = ""): number | null {
  const key = labels === "" ? name : `${name}{${labels}}`;
  return metrics.get(name)?.samples.get(key) ?? null;
}

test("the figures of the state stand under names with their base unit", async () => {
  const metrics = await scrape(createTestApp().app);
  const shown = (name: string, labels?: string) => valueOf(metrics, `bywash_${name}`, labels);
  expect(shown("build_info", 'version="1.2.3",mode="active",site="malga"')).toBe(1);
  expect(shown("state_of_charge_ratio")).toBe(0.97);
  expect(shown("rule_curve_ratio")).toBe(0.94);
  expect(shown("battery_power_watts")).toBe(300);
  expect(shown("battery_rest_voltage_volts")).toBe(55);
  expect(shown("available_power_watts")).toBe(2_300);
  expect(shown("load_stage", 'load="water-heater"')).toBe(2);
  expect(shown("panel_closed", 'panel="surplus"')).toBe(1);
  expect(shown("signal_age_seconds", 'signal="battery.voltage"')).toBe(1.2);
  expect(shown("signal_quality", 'signal="battery.voltage",quality="fresh"')).toBe(1);
  expect(shown("signal_quality", 'signal="battery.voltage",quality="stale"')).toBe(0);
  expect(shown("messages_received_total")).toBe(9);
  expect(shown("commands_sent_total")).toBe(3);
  expect(shown("broker_connected")).toBe(1);
  expect(shown("finding_active", 'code="voltage-low"')).toBe(0);
  expect(metrics.get("bywash_finding_active")?.samples.size).toBe(Object.keys(SITE_CODES).length);
  expect(metrics.get("process_cpu_seconds_total")?.type).toBe("counter");
});

test("the outlook is shown where there is one", () => {
  const outlook = {
    expectedWh: 14_200,
    cautiousWh: 9_800,
    baseWh: 3_000,
    sunsetSocFraction: 0.96,
    sunsetMs: 0,
    isCompleting: false,
    startsAtMs: [],
  };
  const state = stateOf("fresh");
  const shown = (name: string, given: typeof outlook | null) => {
    const verdict = state.verdict === null ? null : { ...state.verdict, outlook: given };
    const facts = { loads: [], raisedCounts: new Map(), readerCount: 0, droppedCount: 0 };
    const entry = METRICS.find((one) => one.name === `bywash_${name}`);
    return entry?.samples({ ...facts, state: { ...state, verdict } })[0]?.value;
  };
  expect(shown("outlook_expected_joules", outlook)).toBe(51_120_000);
  expect(shown("outlook_cautious_joules", outlook)).toBe(35_280_000);
  expect(shown("outlook_sunset_charge_ratio", outlook)).toBe(0.96);
  for (const name of ["expected_joules", "cautious_joules", "sunset_charge_ratio"]) {
    expect(shown(`outlook_${name}`, null)).toBeNull();
  }
});

/** Prometheus documentation, "Metric and label naming". */
test("every name follows the naming guide", async () => {
  const metrics = await scrape(createTestApp().app);
  const own = [...metrics].filter(([name]) => name.startsWith("bywash_"));
  expect(own).toHaveLength(METRICS.length + 1);
  for (const [name, { type, help }] of own) {
    expect(name).toMatch(/^bywash_[a-z]+(?:_[a-z]+)*$/u);
    expect(name.endsWith("_total"), name).toBe(type === "counter");
    expect(name).not.toMatch(/_(?:kw|w|kwh|ms|percent|minutes|celsius)(?:_|$)/u);
    expect(help).not.toBe("");
  }
});

test("what is not known has no sample", async () => {
  const state = { ...stateOf("fresh"), verdict: null };
  const metrics = await scrape(createTestApp({ state: () => state }).app);
  expect(metrics.get("bywash_state_of_charge_ratio")?.samples.size).toBe(0);
  expect(metrics.get("bywash_finding_active")?.samples.size).toBe(0);
  expect(metrics.get("bywash_load_measured_power_watts")?.samples.size).toBe(0);
});

test("a load's meter counts while it is fresh", async () => {
  const meter = { signal: "load.water-heater.power", value: 1_950, unit: "W", ageS: 1 };
  for (const [quality, expected] of [
    ["fresh", 1_950],
    ["stale", null],
  ] as const) {
    const unused = {
      advice: null,
      ignoredCount: 0,
      ignoredCounts: {},
      sensors: [],
      sensorChangeCount: 0,
    };
    const signals = [{ ...meter, ...unused, quality }];
    const { app } = createTestApp({ state: () => ({ ...stateOf("fresh"), signals }) });
    const name = "bywash_load_measured_power_watts";
    expect(valueOf(await scrape(app), name, 'load="water-heater"')).toBe(expected);
  }
});

test("counters rise by what happened between two scrapes, ticks among it", async () => {
  let receivedCount = 9;
  const { app, chronicle, clock } = createTestApp({
    state: () => {
      const state = stateOf("fresh");
      const counters = { ...state.counters, receivedCount, ignoredCounts: { "not-json": 4 } };
      return { ...state, counters };
    },
  });
  const on = decisionOf({ loadStages: [2, 0], panelsClosed: [true] });
  const raised = { about: "site", index: 0, change: "raised", code: "voltage-low" } as const;
  chronicle.note(on);
  const before = await scrape(app);
  receivedCount += 5;
  clock.advance(2_000);
  chronicle.note({ ...on, events: [raised, raised] });
  chronicle.ticked(3);
  chronicle.ticked(2_000);
  const after = await scrape(app);
  const rise = (name: string, labels?: string) =>
    (valueOf(after, name, labels) ?? NaN) - (valueOf(before, name, labels) ?? 0);
  expect(rise("bywash_messages_received_total")).toBe(5);
  expect(rise("bywash_messages_ignored_total", 'reason="not-json"')).toBe(0);
  expect(rise("bywash_load_run_seconds_total", 'load="water-heater"')).toBe(2);
  expect(rise("bywash_load_starts_total", 'load="water-heater"')).toBe(0);
  expect(rise("bywash_findings_raised_total", 'code="voltage-low"')).toBe(2);
  expect(valueOf(after, "bywash_load_starts_total", 'load="water-heater"')).toBe(1);
  expect(valueOf(after, "bywash_load_decided_power_watts", 'load="water-heater"')).toBe(2_000);
  const ticks = after.get("bywash_tick_duration_seconds")?.samples;
  expect(ticks?.get("bywash_tick_duration_seconds_count")).toBe(2);
  expect(ticks?.get('bywash_tick_duration_seconds_bucket{le="0.005"}')).toBe(1);
  expect(ticks?.get('bywash_tick_duration_seconds_bucket{le="1"}')).toBe(1);
});

test("once closed it no longer listens to ticks", async () => {
  const { chronicle, source } = createTestApp();
  const metrics = createMetrics(source, { readerCount: () => 3, droppedCount: () => 2 });
  chronicle.ticked(1);
  metrics.close();
  chronicle.ticked(1);
  const text = readExposition(await metrics.text());
  expect(valueOf(text, "bywash_stream_readers")).toBe(3);
  expect(valueOf(text, "bywash_stream_readers_dropped_total")).toBe(2);
  const ticks = text.get("bywash_tick_duration_seconds")?.samples;
  expect(ticks?.get("bywash_tick_duration_seconds_count")).toBe(1);
});

describe("the strict reader refuses", () => {
  test.each([
    ["an unfinished line", "# HELP a b\n# TYPE a gauge\na 1"],
    ["a sample without a type", "a 1\n"],
    ["a type without help", "# TYPE a gauge\na 1\n"],
    ["another metric in the group", "# HELP a b\n# TYPE a gauge\nb 1\n"],
    ["a sample twice", "# HELP a b\n# TYPE a gauge\na 1\na 2\n"],
    ["a metric twice", "# HELP a b\n# TYPE a gauge\na 1\n# HELP a b\n# TYPE a gauge\n"],
    ["an unescaped quote", '# HELP a b\n# TYPE a gauge\na{x="y"z"} 1\n'],
    ["a value that is none", "# HELP a b\n# TYPE a gauge\na one\n"],
    [
      "a falling histogram",
      '# HELP a b\n# TYPE a histogram\na_bucket{le="1"} 2\na_bucket{le="+Inf"} 1\n',
    ],
    ["one without its end", '# HELP a b\n# TYPE a histogram\na_bucket{le="1"} 2\na_count 2\n'],
  ])("%s", (_what, text) => {
    expect(() => readExposition(text)).toThrow(Error);
  });
});
