import type { PlantTruth } from "./plant/plant-truth.ts";

export interface LoadFigures {
  energyWh: number;
  usefulWh: number;
  starts: number;
  /** Finished runs only: one that the record cuts off says nothing about its length. null: none. */
  shortestRunS: number | null;
  /** Between two runs. null: fewer than two. */
  shortestRestS: number | null;
  /** Finished or still running. null: never ran. */
  longestRunS: number | null;
}

export interface LoadLedger {
  /** @returns how many loads started in this step. */
  add(dtS: number, truth: PlantTruth, stages: readonly number[]): number;
  figures(): Readonly<Record<string, LoadFigures>>;
}

/** Energy and run times of each load; a run is a time during which it is commanded on. */
export function createLoadLedger(ids: readonly string[]): LoadLedger {
  const rows = ids.map((id) => ({ id, figures: emptyFigures(), runS: 0, restS: 0, hasRun: false }));
  return {
    add(dtS, truth, stages) {
      let starts = 0;
      for (let i = 0; i < rows.length; i += 1) {
        const row = rows[i];
        if (row === undefined) continue;
        row.figures.energyWh += ((truth.loadPowerW[i] ?? 0) * dtS) / 3600;
        row.figures.usefulWh += ((truth.loadUsefulW[i] ?? 0) * dtS) / 3600;
        if ((stages[i] ?? 0) > 0) starts += run(row, dtS);
        else rest(row, dtS);
      }
      return starts;
    },
    figures: () => Object.fromEntries(rows.map(({ id, figures }) => [id, { ...figures }])),
  };
}

interface Row {
  readonly figures: LoadFigures;
  /** Length of the present run; 0 while off. */
  runS: number;
  restS: number;
  hasRun: boolean;
}

function run(row: Row, dtS: number): number {
  const { figures } = row;
  const isStart = row.runS === 0;
  if (isStart) {
    figures.starts += 1;
    if (row.hasRun) figures.shortestRestS = Math.min(figures.shortestRestS ?? Infinity, row.restS);
    row.hasRun = true;
  }
  row.runS += dtS;
  figures.longestRunS = Math.max(figures.longestRunS ?? 0, row.runS);
  return isStart ? 1 : 0;
}

function rest(row: Row, dtS: number): void {
  const { figures } = row;
  if (row.runS > 0) {
    figures.shortestRunS = Math.min(figures.shortestRunS ?? Infinity, row.runS);
    row.runS = 0;
    row.restS = 0;
  }
  row.restS += dtS;
}

function emptyFigures(): LoadFigures {
  return {
    energyWh: 0,
    usefulWh: 0,
    starts: 0,
    shortestRunS: null,
    shortestRestS: null,
    longestRunS: null,
  };
}
