/** What came of an import, gathered while the pieces pass by. */
import type { OffsetChange } from "../../config/local-calendar.ts";
import { GAP_MAX_MS } from "../days/day-file.ts";
import type { DaySeries, Gap } from "../days/day-file.ts";

const FIRST_ROWS = 3;

export interface ColumnSummary {
  readonly column: string;
  /** Share of the rows without a value. [1] 0…1 */
  readonly missingFraction: number;
  /** null: no row has a value. */
  readonly min: number | null;
  readonly mean: number | null;
  readonly max: number | null;
}

export interface ImportSummary {
  readonly rows: number;
  readonly stepS: number;
  readonly place: { readonly latitudeDeg: number; readonly longitudeDeg: number } | null;
  readonly source: string | null;
  readonly startMs: number;
  readonly endMs: number;
  /** Local time less UTC, as the stamps carry it; the first change is the first row. */
  readonly utcOffsets: readonly OffsetChange[];
  /** Holes of more than ten minutes. */
  readonly gaps: readonly Gap[];
  readonly columns: readonly ColumnSummary[];
  /** One field for each column; null where it is empty. */
  readonly firstRows: readonly {
    readonly atMs: number;
    readonly values: readonly (number | null)[];
  }[];
}

interface Tally {
  count: number;
  sum: number;
  min: number;
  max: number;
}

export interface SummaryBuilder {
  add(piece: DaySeries): void;
  /** @returns null if no piece came. */
  summary(): ImportSummary | null;
}

export function createSummary(): SummaryBuilder {
  const tallies = new Map<string, Tally>();
  const gaps: Gap[] = [];
  const firstRows: ImportSummary["firstRows"][number][] = [];
  let first: DaySeries | null = null;
  let last: DaySeries | null = null;
  const utcOffsets: OffsetChange[] = [];
  let rows = 0;
  return {
    add(piece) {
      const gap = gapBetween(last, piece);
      if (gap !== null) gaps.push(gap);
      gaps.push(...piece.gaps);
      first ??= piece;
      last = piece;
      rows += piece.timesMs.length;
      addOffsets(utcOffsets, piece);
      for (const [column, values] of piece.columns) count(tallies, column, values);
      for (let row = 0; row < piece.timesMs.length && firstRows.length < FIRST_ROWS; row += 1) {
        firstRows.push(rowAt(piece, row));
      }
    },
    summary() {
      if (first === null || last === null) return null;
      const { place, source, stepMs } = first;
      return {
        rows,
        stepS: stepMs / 1000,
        place: place && { latitudeDeg: place.latitudeDeg, longitudeDeg: place.longitudeDeg },
        source,
        startMs: first.timesMs[0] ?? 0,
        endMs: (last.timesMs.at(-1) ?? 0) + last.stepMs,
        utcOffsets,
        gaps,
        columns: [...tallies].map(([column, tally]) => columnSummary(column, tally, rows)),
        firstRows,
      };
    },
  };
}

function addOffsets(changes: OffsetChange[], { timesMs, utcOffsetsMs, place }: DaySeries): void {
  for (const [row, fromMs] of timesMs.entries()) {
    const offsetMs = utcOffsetsMs?.[row] ?? place?.utcOffsetMs ?? 0;
    if (changes.at(-1)?.offsetMs !== offsetMs) changes.push({ fromMs, offsetMs });
  }
}

function gapBetween(before: DaySeries | null, piece: DaySeries): Gap | null {
  if (before === null) return null;
  const fromMs = before.timesMs.at(-1) ?? 0;
  const toMs = piece.timesMs[0] ?? 0;
  return toMs - fromMs > Math.max(GAP_MAX_MS, 1.5 * piece.stepMs) ? { fromMs, toMs } : null;
}

function count(tallies: Map<string, Tally>, column: string, values: Float64Array): void {
  const tally = tallies.get(column) ?? { count: 0, sum: 0, min: Infinity, max: -Infinity };
  tallies.set(column, tally);
  for (const value of values) {
    if (Number.isNaN(value)) continue;
    tally.count += 1;
    tally.sum += value;
    tally.min = Math.min(tally.min, value);
    tally.max = Math.max(tally.max, value);
  }
}

function columnSummary(column: string, tally: Tally, rows: number): ColumnSummary {
  const isEmpty = tally.count === 0;
  return {
    column,
    missingFraction: 1 - tally.count / rows,
    min: isEmpty ? null : tally.min,
    mean: isEmpty ? null : tally.sum / tally.count,
    max: isEmpty ? null : tally.max,
  };
}

function rowAt(piece: DaySeries, row: number): ImportSummary["firstRows"][number] {
  const values = [...piece.columns.values()].map((column) => column[row] ?? NaN);
  return {
    atMs: piece.timesMs[row] ?? 0,
    values: values.map((value) => (Number.isNaN(value) ? null : value)),
  };
}
