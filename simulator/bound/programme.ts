/** A linear programme in the making: maximise what is worth something, within rows and limits. */

export interface Programme {
  readonly columnCount: number;
  readonly rowCount: number;
  readonly worth: Float64Array;
  readonly columnLower: Float64Array;
  readonly columnUpper: Float64Array;
  readonly rowLower: Float64Array;
  readonly rowUpper: Float64Array;
  /** Row by row: where each begins among the entries, and the end. */
  readonly starts: Int32Array;
  readonly indices: Int32Array;
  readonly values: Float64Array;
  /**
   * Where it may be cut in two, rising: rows before the place know no column behind it, and rows
   * behind it few before it.
   */
  readonly cuts: readonly Cut[];
}

/** How many columns and rows lie before it. */
export interface Cut {
  readonly columns: number;
  readonly rows: number;
}

export interface ColumnLimits {
  readonly lower: number;
  readonly upper: number;
  /** For each unit of it; 0 where absent. */
  readonly worth?: number;
}

/** [column, value] */
export type Entry = readonly [number, number];

export interface ProgrammeBuilder {
  /** @returns its place among the columns. */
  column(limits: ColumnLimits): number;
  /** Σ value · column ≤ upper; entries of the same column add up. */
  atMost(upper: number, entries: readonly Entry[]): void;
  /** What has been added so far may be parted from what comes. */
  cut(): void;
  build(): Programme;
}

export function createProgramme(): ProgrammeBuilder {
  const columns: ColumnLimits[] = [];
  const uppers: number[] = [];
  const starts: number[] = [0];
  const indices: number[] = [];
  const values: number[] = [];
  const cuts: Cut[] = [];
  return {
    column(limits) {
      columns.push(limits);
      return columns.length - 1;
    },
    atMost(upper, entries) {
      for (const [column, value] of merged(entries)) {
        indices.push(column);
        values.push(value);
      }
      uppers.push(upper);
      starts.push(indices.length);
    },
    cut() {
      cuts.push({ columns: columns.length, rows: uppers.length });
    },
    build: () => ({
      columnCount: columns.length,
      rowCount: uppers.length,
      worth: Float64Array.from(columns, ({ worth }) => worth ?? 0),
      columnLower: Float64Array.from(columns, ({ lower }) => lower),
      columnUpper: Float64Array.from(columns, ({ upper }) => upper),
      rowLower: new Float64Array(uppers.length).fill(-Infinity),
      rowUpper: Float64Array.from(uppers),
      starts: Int32Array.from(starts),
      indices: Int32Array.from(indices),
      values: Float64Array.from(values),
      cuts,
    }),
  };
}

function merged(entries: readonly Entry[]): ReadonlyMap<number, number> {
  const sums = new Map<number, number>();
  for (const [column, value] of entries) {
    const sum = (sums.get(column) ?? 0) + value;
    if (sum === 0) sums.delete(column);
    else sums.set(column, sum);
  }
  return sums;
}
