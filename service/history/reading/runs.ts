/** Runs and rests of each load, out of its events. */
import type { Stretch } from "./minutes.ts";
import { numberIn, textIn } from "./reader.ts";
import type { Reader } from "./reader.ts";

export interface LoadRun {
  readonly starts: number;
  readonly shortestRunMin: number | null;
  readonly shortestRestMin: number | null;
}

const MINUTE_MS = 60_000;

/** @throws Error of the database */
export function readRuns(reader: Reader, { fromMs, toMs }: Stretch): Map<string, LoadRun> {
  const rows = reader.rows(
    "SELECT owner, change, at_ms FROM event WHERE about = 'load' AND at_ms >= ? AND at_ms < ? " +
      "AND change IN ('started', 'stopped') ORDER BY at_ms, id",
    fromMs,
    toMs,
  );
  const runs = new Map<string, LoadRun>();
  const last = new Map<string, { readonly change: string; readonly atMs: number }>();
  for (const row of rows) {
    const [id, change, atMs] = [textIn(row, 0), textIn(row, 1), numberIn(row, 2)];
    const run = runs.get(id) ?? { starts: 0, shortestRunMin: null, shortestRestMin: null };
    const before = last.get(id);
    const lastedMin = before === undefined ? null : (atMs - before.atMs) / MINUTE_MS;
    last.set(id, { change, atMs });
    const isStart = change === "started";
    const isPair = before !== undefined && before.change !== change;
    runs.set(id, {
      starts: run.starts + (isStart ? 1 : 0),
      shortestRunMin: shorter(run.shortestRunMin, isPair && !isStart ? lastedMin : null),
      shortestRestMin: shorter(run.shortestRestMin, isPair && isStart ? lastedMin : null),
    });
  }
  return runs;
}

function shorter(a: number | null, b: number | null): number | null {
  if (a === null || b === null) return a ?? b;
  return Math.min(a, b);
}
