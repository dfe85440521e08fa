/**
 * Where the solver had best begin: the basis that a rolling plan ends with, a week at a time with
 * a look at the days after it. What is best today hardly depends on the weather of next month, so
 * nearly all of it is right, and the whole programme is finished from there in a tenth of the
 * work. It only shortens the way: the solver ends at the same best from anywhere.
 */
import type { Cut, Programme } from "./programme.ts";

export interface Basis {
  readonly colStatus: Int32Array;
  readonly rowStatus: Int32Array;
}

/** Solves a part; null if it has no best. */
export type PartSolver = (
  part: Programme,
) => { readonly basis: Basis; readonly columns: Float64Array } | null;

/** In cuts, that is in days: found to be quickest for a year, no source. */
const WINDOW = 7;
const OUTLOOK = 2;
/** Shorter ones are solved as quickly in one piece. */
const CUTS_MIN = 2 * WINDOW;

/** @returns null where beginning from nothing is as good. */
export function likelyBasis(
  programme: Programme,
  basicStatus: number,
  solvePart: PartSolver,
): Basis | null {
  const { cuts, columnCount, rowCount } = programme;
  if (cuts.length < CUTS_MIN) return null;
  const end: Cut = { columns: columnCount, rows: rowCount };
  const places = [{ columns: 0, rows: 0 }, ...cuts, end];
  const colStatus = new Int32Array(columnCount);
  const rowStatus = new Int32Array(rowCount).fill(basicStatus);
  const columns = new Float64Array(columnCount);
  for (let day = 0; day < places.length - 1; day += WINDOW) {
    const from = places[day] ?? end;
    const kept = places[day + WINDOW] ?? end;
    const solved = solvePart(
      part(programme, columns, { from, to: places[day + WINDOW + OUTLOOK] ?? end }),
    );
    if (solved === null) return null;
    const keptColumns = kept.columns - from.columns;
    columns.set(solved.columns.subarray(0, keptColumns), from.columns);
    colStatus.set(solved.basis.colStatus.subarray(0, keptColumns), from.columns);
    rowStatus.set(solved.basis.rowStatus.subarray(0, kept.rows - from.rows), from.rows);
  }
  return { colStatus, rowStatus };
}

/** Columns from before it stand as they were found, behind all others. */
function part(
  whole: Programme,
  found: Float64Array,
  { from, to }: { readonly from: Cut; readonly to: Cut },
): Programme {
  const first = whole.starts[from.rows] ?? 0;
  const last = whole.starts[to.rows] ?? 0;
  const own = to.columns - from.columns;
  const earlier = new Map<number, number>();
  const indices = whole.indices.slice(first, last).map((column) => {
    if (column >= from.columns) return column - from.columns;
    const place = earlier.get(column) ?? own + earlier.size;
    earlier.set(column, place);
    return place;
  });
  const held = [...earlier.keys()].map((column) => found[column] ?? 0);
  const joined = (values: Float64Array, behind: readonly number[]): Float64Array =>
    Float64Array.from([...values.subarray(from.columns, to.columns), ...behind]);
  return {
    columnCount: own + held.length,
    rowCount: to.rows - from.rows,
    worth: joined(
      whole.worth,
      held.map(() => 0),
    ),
    columnLower: joined(whole.columnLower, held),
    columnUpper: joined(whole.columnUpper, held),
    rowLower: whole.rowLower.slice(from.rows, to.rows),
    rowUpper: whole.rowUpper.slice(from.rows, to.rows),
    starts: whole.starts.slice(from.rows, to.rows + 1).map((start) => start - first),
    indices,
    values: whole.values.slice(first, last),
    cuts: [],
  };
}
