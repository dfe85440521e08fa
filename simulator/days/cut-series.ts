import type { DaySeries } from "./day-file.ts";

/** Rows `from` to `to` (not included) of a series, sharing its numbers. */
export function rowsOf(series: DaySeries, from: number, to: number): DaySeries {
  const { timesMs, utcOffsetsMs } = series;
  const columns = [...series.columns].map(
    ([name, values]) => [name, values.subarray(from, to)] as const,
  );
  const startMs = timesMs[from] ?? 0;
  const endMs = timesMs[to] ?? series.endMs;
  return {
    name: series.name,
    site: series.site,
    source: series.source,
    place: series.place,
    stepMs: series.stepMs,
    timesMs: timesMs.subarray(from, to),
    ...(utcOffsetsMs === undefined ? {} : { utcOffsetsMs: utcOffsetsMs.subarray(from, to) }),
    columns: new Map(columns),
    gaps: series.gaps.filter((gap) => gap.fromMs >= startMs && gap.fromMs < (endMs ?? Infinity)),
    ...(endMs === undefined ? {} : { endMs }),
  };
}
