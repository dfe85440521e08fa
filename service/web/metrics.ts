/**
 * `/metrics` in the text format of Prometheus. Loaded when it is first asked for: most sites never
 * ask, and the library takes longer to load than the whole web room. Only the histogram of ticks
 * begins then; all else counts from the start of the run.
 */
import { collectDefaultMetrics, Counter, Gauge, Histogram, Registry } from "prom-client";
import { METRICS } from "./metric-table.ts";
import type { MetricEntry, MetricFacts } from "./metric-table.ts";
import type { WebSource } from "./source.ts";
import type { Stream } from "./stream.ts";

export interface Metrics {
  readonly contentType: string;
  text(): Promise<string>;
  /** No longer listens to ticks. */
  close(): void;
}

/** How often the library looks how late the event loop is; its own 10 ms would keep it awake. */
const LOOP_DELAY_EVERY_MS = 100;
/** From a tick on a desktop to one that starves the next. [s] */
const TICK_BUCKETS_S = [0.0005, 0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 1];
const MS_PER_SECOND = 1_000;

export function createMetrics(
  { state, chronicle }: WebSource,
  stream: Pick<Stream, "readerCount" | "droppedCount">,
): Metrics {
  const register = new Registry();
  collectDefaultMetrics({ register, eventLoopMonitoringPrecision: LOOP_DELAY_EVERY_MS });
  let facts: MetricFacts | null = null;
  for (const entry of METRICS) registerEntry(register, entry, () => facts);
  const ticks = new Histogram({
    name: "bywash_tick_duration_seconds",
    help: "What a decision took, since this was first asked for",
    buckets: TICK_BUCKETS_S,
    registers: [register],
  });
  const leave = chronicle.onTicked((durationMs) => ticks.observe(durationMs / MS_PER_SECOND));
  return {
    contentType: register.contentType,
    text() {
      facts = {
        state: state(),
        loads: chronicle.loadTotals(),
        raisedCounts: chronicle.raisedCounts(),
        readerCount: stream.readerCount(),
        droppedCount: stream.droppedCount(),
      };
      return register.metrics();
    },
    close: leave,
  };
}

function registerEntry(
  register: Registry,
  { kind, name, help, labelNames, samples }: MetricEntry,
  factsNow: () => MetricFacts | null,
): void {
  const base = { name, help, labelNames: [...labelNames], registers: [register] };
  const known = () => {
    const facts = factsNow();
    const all = facts === null ? [] : samples(facts);
    return all.flatMap(({ labels, value }) => (value === null ? [] : [{ labels, value }]));
  };
  if (kind === "gauge") {
    const gauge: Gauge = new Gauge({
      ...base,
      collect() {
        gauge.reset();
        if (labelNames.length === 0) gauge.remove();
        for (const { labels, value } of known()) gauge.set(labels, value);
      },
    });
    return;
  }
  const counter: Counter = new Counter({
    ...base,
    collect() {
      counter.reset();
      for (const { labels, value } of known()) counter.inc(labels, value);
    },
  });
}
