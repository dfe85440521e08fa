/**
 * Every quantity that `/metrics` shows. Names are ours, in base units, after the naming guide of
 * Prometheus; what is not known has no sample, for a 0 would be a lie. Labels take their values
 * from the settings and the dictionaries alone, so their number is bounded.
 */
import type { LoadTotals } from "../chronicle.ts";
import { SITE_CODES } from "../control/site-codes.ts";
import type { StateView } from "../state-view.ts";

export interface MetricFacts {
  readonly state: StateView;
  readonly loads: readonly LoadTotals[];
  readonly raisedCounts: ReadonlyMap<string, number>;
  /** Of the stream. */
  readonly readerCount: number;
  readonly droppedCount: number;
}

export interface Sample {
  readonly labels: Readonly<Record<string, string>>;
  readonly value: number | null;
}

export interface MetricEntry {
  readonly kind: "gauge" | "counter";
  readonly name: string;
  readonly help: string;
  readonly labelNames: readonly string[];
  readonly samples: (facts: MetricFacts) => readonly Sample[];
}

const QUALITIES = [
  "fresh",
  "frozen",
  "stale",
  "implausible",
  "waiting",
  "retained",
  "unmapped",
] as const satisfies readonly StateView["signals"][number]["quality"][];

const MS_PER_SECOND = 1_000;
const JOULES_PER_WH = 3_600;

export const METRICS: readonly MetricEntry[] = [
  labelled("gauge", "build_info", {
    help: "1; version, mode and site",
    labelNames: ["version", "mode", "site"],
    samples: ({ state }) => [
      { labels: { version: state.version, mode: state.mode, site: state.site.id }, value: 1 },
    ],
  }),
  ofSite("state_of_charge_ratio", "State of charge", (site) => site.socFraction),
  ofSite("rule_curve_ratio", "Rule curve now", (site) => site.ruleCurveFraction),
  ofSite("outlook_expected_joules", "From the sources, until sunset", ({ outlook }) =>
    outlook === null ? null : outlook.expectedWh * JOULES_PER_WH,
  ),
  ofSite("outlook_cautious_joules", "Of that, the cautious side", ({ outlook }) =>
    outlook === null ? null : outlook.cautiousWh * JOULES_PER_WH,
  ),
  ofSite("outlook_sunset_charge_ratio", "Likely at sunset, without loads", ({ outlook }) =>
    outlook === null ? null : outlook.sunsetSocFraction,
  ),
  ofSite("battery_power_watts", "Positive: charging", (site) => site.batteryPowerW),
  ofSite("sources_power_watts", "From all sources", (site) => site.sourcesPowerW),
  ofSite("base_power_watts", "Essential use", (site) => site.basePowerW),
  ofSite("battery_claim_watts", "What the battery gets first", (site) => site.claimW),
  ofSite("available_power_watts", "For a further load", (site) => site.availableW),
  ofSite("potential_low_watts", "Sources, low end", (site) => site.potentialLowW),
  ofSite("potential_watts", "Sources, what they could give", (site) => site.potentialW),
  ofSite("potential_high_watts", "Sources, high end", (site) => site.potentialHighW),
  ofSite("inverter_headroom_watts", "Up to its rating", (site) => site.inverterHeadroomW),
  ofSite("battery_rest_voltage_volts", "Estimate at rest", (site) => site.restVoltageV),
  ofSite("curtailed", "1: the arrays are held back", (site) => (site.isCurtailed ? 1 : 0)),
  labelled("gauge", "finding_active", {
    help: "1: this is wrong with the site now",
    labelNames: ["code"],
    samples: ({ state: { verdict } }) =>
      verdict === null
        ? []
        : Object.keys(SITE_CODES).map((code) => ({
            labels: { code },
            value: verdict.findings.some((finding) => finding.code === code) ? 1 : 0,
          })),
  }),
  labelled("counter", "findings_raised_total", {
    help: "Warnings and alarms, site and loads",
    labelNames: ["code"],
    samples: ({ raisedCounts }) =>
      [...raisedCounts].map(([code, value]) => ({ labels: { code }, value })),
  }),
  ...loadMetrics(),
  ...signalMetrics(),
  single("gauge", "broker_connected", {
    help: "1: every connection to the broker is up",
    value: ({ state }) => (state.isBrokerConnected ? 1 : 0),
  }),
  counted("broker_losses_total", "Connections that were lost", (of) => of.brokerLossCount),
  counted("messages_received_total", "Messages from the broker", (of) => of.receivedCount),
  counted("commands_sent_total", "Commands to actuators", (of) => of.commandCount),
  counted("ticks_total", "Decisions", (of) => of.tickCount),
  counted("tick_overruns_total", "Decisions that began late", (of) => of.overrunCount),
  single("gauge", "stream_readers", {
    help: "Connected to the stream",
    value: ({ readerCount }) => readerCount,
  }),
  single("counter", "stream_readers_dropped_total", {
    help: "Readers of the stream that did not read",
    value: ({ droppedCount }) => droppedCount,
  }),
];

function loadMetrics(): MetricEntry[] {
  const ofLoads = (value: (load: LoadTotals) => number) => ({
    labelNames: ["load"],
    samples: ({ loads }: MetricFacts) =>
      loads.map((load) => ({ labels: { load: load.id }, value: value(load) })),
  });
  return [
    labelled("gauge", "load_stage", {
      help: "Decided stage; 0: off",
      labelNames: ["load"],
      samples: ({ state }) =>
        state.loads.map(({ id, stage }) => ({ labels: { load: id }, value: stage })),
    }),
    labelled("gauge", "load_decided_power_watts", {
      help: "Rated power of the decided stage",
      ...ofLoads(({ decidedPowerW }) => decidedPowerW),
    }),
    labelled("gauge", "load_measured_power_watts", {
      help: "By the load's own meter, while fresh",
      labelNames: ["load"],
      samples: ({ state, loads }) =>
        loads.map(({ id }) => ({ labels: { load: id }, value: freshPowerW(state, id) })),
    }),
    labelled("counter", "load_run_seconds_total", {
      help: "Time decided on",
      ...ofLoads(({ runMs }) => runMs / MS_PER_SECOND),
    }),
    labelled("counter", "load_starts_total", {
      help: "From off to on",
      ...ofLoads(({ startCount }) => startCount),
    }),
    labelled("gauge", "panel_closed", {
      help: "1: the panel's contactor is to be closed",
      labelNames: ["panel"],
      samples: ({ state }) =>
        state.panels.map(({ id, stage }) => ({ labels: { panel: id }, value: stage })),
    }),
  ];
}

function signalMetrics(): MetricEntry[] {
  return [
    labelled("gauge", "signal_age_seconds", {
      help: "Since the last good value",
      labelNames: ["signal"],
      samples: ({ state }) =>
        state.signals.map(({ signal, ageS }) => ({ labels: { signal }, value: ageS })),
    }),
    labelled("gauge", "signal_quality", {
      help: "1 for the quality that the signal has",
      labelNames: ["signal", "quality"],
      samples: ({ state }) =>
        state.signals.flatMap(({ signal, quality }) =>
          QUALITIES.map((one) => ({
            labels: { signal, quality: one },
            value: one === quality ? 1 : 0,
          })),
        ),
    }),
    labelled("counter", "messages_ignored_total", {
      help: "Values that could not be used",
      labelNames: ["reason"],
      samples: ({ state }) =>
        Object.entries(state.counters.ignoredCounts).map(([reason, value]) => ({
          labels: { reason },
          value,
        })),
    }),
  ];
}

function freshPowerW(state: StateView, id: string): number | null {
  const meter = state.signals.find(({ signal }) => signal === `load.${id}.power`);
  const isFresh = meter?.quality === "fresh";
  return isFresh && typeof meter.value === "number" ? meter.value : null;
}

type SiteFigures = NonNullable<StateView["verdict"]>;

function ofSite(
  name: string,
  help: string,
  value: (site: SiteFigures) => number | null,
): MetricEntry {
  return single("gauge", name, {
    help,
    value: ({ state }) => (state.verdict === null ? null : value(state.verdict)),
  });
}

function counted(
  name: string,
  help: string,
  value: (counters: StateView["counters"]) => number,
): MetricEntry {
  return single("counter", name, { help, value: ({ state }) => value(state.counters) });
}

function single(
  kind: MetricEntry["kind"],
  name: string,
  how: { readonly help: string; readonly value: (facts: MetricFacts) => number | null },
): MetricEntry {
  const samples = (facts: MetricFacts) => [{ labels: {}, value: how.value(facts) }];
  return { kind, name: `bywash_${name}`, help: how.help, labelNames: [], samples };
}

function labelled(
  kind: MetricEntry["kind"],
  name: string,
  how: Pick<MetricEntry, "help" | "labelNames" | "samples">,
): MetricEntry {
  return { kind, name: `bywash_${name}`, ...how };
}
