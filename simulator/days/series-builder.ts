/**
 * Gathers checked rows and gives them on as series: the whole file, or a piece for each local day,
 * so that a year of minutes never stands in memory at once.
 *
 * A piece ends only where nothing is missing: after a hole, or where a column is empty, the next
 * reader has to see both sides to know how long it lasted.
 */
import { GAP_MAX_MS } from "./day-file.ts";
import type { DaySeries, Gap } from "./day-file.ts";
import type { DayComments } from "./day-comments.ts";

const DAY_MS = 86_400_000;
const MINUTE_MS = 60_000;
/** A column that is empty for longer than this does not hold the pieces together any more. */
const PIECE_MAX_DAYS = 8;

export interface SeriesHead {
  readonly name: string;
  readonly columns: readonly string[];
  readonly comments: DayComments;
  /** `days`: a piece for each local day. `whole`: one for all. */
  readonly cut: "days" | "whole";
}

export interface CheckedRow {
  readonly atMs: number;
  readonly offsetMs: number;
  /** As many as there are columns; NaN where the field is empty. Copied. */
  readonly values: Float64Array;
}

export interface SeriesBuilder {
  /** @returns the piece that this row shows to be complete, or null. */
  add(row: CheckedRow): DaySeries | null;
  /** @returns what is left, or null if no row came. */
  end(): DaySeries | null;
}

export function createSeriesBuilder(head: SeriesHead): SeriesBuilder {
  let piece = emptyPiece(head.columns.length);
  let stepMs = head.comments.stepMs;
  let firstOffsetMs: number | null = null;
  return {
    add(row) {
      firstOffsetMs ??= row.offsetMs;
      const isComplete = head.cut === "days" && mayCutBefore(row);
      const done = isComplete ? { ...finish(), endMs: row.atMs } : null;
      append(piece, row);
      return done;
    },
    end: () => (piece.timesMs.length === 0 ? null : finish()),
  };

  function mayCutBefore(row: CheckedRow): boolean {
    const { timesMs, offsetsMs, isKnown } = piece;
    if (timesMs.length === 0) return false;
    const days = localDay(row.atMs, row.offsetMs) - localDay(timesMs[0] ?? 0, offsetsMs[0] ?? 0);
    if (days < 1) return false;
    const distanceMs = row.atMs - (timesMs.at(-1) ?? 0);
    const isHole = distanceMs > GAP_MAX_MS && distanceMs > 1.5 * usualStepMs(timesMs);
    if (isHole) return false;
    const isWhole = isKnown.every((known, c) => !known || !Number.isNaN(row.values[c]));
    return isWhole || days > PIECE_MAX_DAYS;
  }

  function finish(): DaySeries {
    const timesMs = Float64Array.from(piece.timesMs);
    stepMs ??= usualStepMs(timesMs);
    const { site, source, place } = head.comments;
    const columns = head.columns.map(
      (column, c) => [column, Float64Array.from(piece.columns[c] ?? [])] as const,
    );
    const series = {
      name: head.name,
      site,
      source,
      place: place === null ? null : { ...place, utcOffsetMs: firstOffsetMs ?? 0 },
      stepMs,
      timesMs,
      utcOffsetsMs: Float64Array.from(piece.offsetsMs),
      columns: new Map(columns),
      gaps: findGaps(timesMs, stepMs),
    };
    piece = emptyPiece(head.columns.length);
    return series;
  }
}

interface Piece {
  readonly timesMs: number[];
  readonly offsetsMs: number[];
  readonly columns: readonly number[][];
  /** By column: it has held a value in this piece. */
  readonly isKnown: boolean[];
}

function emptyPiece(columns: number): Piece {
  return {
    timesMs: [],
    offsetsMs: [],
    columns: Array.from({ length: columns }, () => []),
    isKnown: Array.from({ length: columns }, () => false),
  };
}

function append(piece: Piece, row: CheckedRow): void {
  piece.timesMs.push(row.atMs);
  piece.offsetsMs.push(row.offsetMs);
  for (const [c, column] of piece.columns.entries()) {
    const value = row.values[c] ?? NaN;
    column.push(value);
    if (!Number.isNaN(value)) piece.isKnown[c] = true;
  }
}

function localDay(atMs: number, offsetMs: number): number {
  return Math.floor((atMs + offsetMs) / DAY_MS);
}

/** The commonest distance of two rows: the median, which a few holes do not move. [ms] > 0 */
function usualStepMs(timesMs: ArrayLike<number>): number {
  if (timesMs.length < 2) return MINUTE_MS;
  const distances = new Float64Array(timesMs.length - 1);
  for (let i = 1; i < timesMs.length; i += 1) {
    distances[i - 1] = (timesMs[i] ?? 0) - (timesMs[i - 1] ?? 0);
  }
  distances.sort();
  return distances[Math.floor(distances.length / 2)] ?? MINUTE_MS;
}

function findGaps(timesMs: Float64Array, stepMs: number): readonly Gap[] {
  const longestMs = Math.max(GAP_MAX_MS, 1.5 * stepMs);
  const gaps: Gap[] = [];
  for (let i = 1; i < timesMs.length; i += 1) {
    const fromMs = timesMs[i - 1] ?? 0;
    const toMs = timesMs[i] ?? 0;
    if (toMs - fromMs > longestMs) gaps.push({ fromMs, toMs });
  }
  return gaps;
}
