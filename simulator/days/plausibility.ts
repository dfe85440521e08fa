/**
 * What no single row shows: a column in another unit, or two columns in each other's place. Each
 * finding needs most of a day as evidence; a doubtful case passes.
 *
 * All limits: ours, no source.
 */
import { UserError } from "../../service/errors.ts";
import type { UserProblem } from "../../service/errors.ts";
import type { DaySeries } from "./day-file.ts";

const HOUR_MS = 3_600_000;
/** Less than this of a record says nothing about its units. */
const EVIDENCE_MS = 12 * HOUR_MS;
const EVIDENCE_ROWS = 10;

/**
 * Greatest value of the whole record below which a column is taken for another unit. Snow on the
 * panels keeps watts as low; but a meter of watts counts in whole ones, or tenths, and kilowatts
 * come with finer decimals.
 */
const SMALL: readonly {
  readonly column: string;
  readonly max: number;
  readonly suggestion: string;
}[] = [
  ...["pv_power_w", "pv_potential_w"].map((column) => small(column, 20, "kilowatts")),
  ...["total_load_w", "base_load_w"].map((column) => small(column, 10, "kilowatts")),
  ...["ghi_w_m2", "dni_w_m2"].map((column) => small(column, 2, "kilowatts per square metre")),
  { column: "battery_soc_percent", max: 1, suggestion: "a fraction? Times 100 it is percent" },
];
const SMALL_MIN = -0.05;
const FINER_THAN = 0.1;

function small(column: string, max: number, unit: string): (typeof SMALL)[number] {
  return { column, max, suggestion: `${unit}? Times 1000` };
}

/** Columns of which the first can hardly be greater than the second. */
const ORDERED: readonly {
  readonly small: string;
  readonly great: string;
  /** Rows with less than this say nothing. */
  readonly from: number;
}[] = [
  { small: "dhi_w_m2", great: "ghi_w_m2", from: 100 },
  { small: "pv_power_w", great: "pv_potential_w", from: 200 },
  { small: "base_load_w", great: "total_load_w", from: 200 },
];
/** Sensors differ by some per cent. */
const ORDERED_BY = 1.15;

interface Span {
  min: number;
  max: number;
  count: number;
  /** Values that tenths cannot tell. */
  fine: number;
}

export interface Plausibility {
  look(series: DaySeries): void;
  /** @throws UserError with every finding that the record so far supports. */
  judge(): void;
}

/** @param where - Where messages point: the header. */
export function createPlausibility(where: string): Plausibility {
  const spans = new Map<string, Span>();
  const pairs = ORDERED.map(() => ({ right: 0, wrong: 0 }));
  let lengthMs = 0;
  return {
    look(series) {
      lengthMs += (series.timesMs.at(-1) ?? 0) - (series.timesMs[0] ?? 0) + series.stepMs;
      for (const [column, values] of series.columns) widen(spanOf(column), values);
      for (const [i, pair] of ORDERED.entries()) {
        const counts = pairs[i];
        if (counts !== undefined) count(series, pair, counts);
      }
    },
    judge() {
      if (lengthMs < EVIDENCE_MS) return;
      const problems = [...smallColumns(spans), ...swappedPairs(pairs), ...swappedBattery(spans)];
      if (problems.length === 0) return;
      throw new UserError(problems.map((problem) => ({ ...problem, where })));
    },
  };

  function spanOf(column: string): Span {
    const known = spans.get(column);
    if (known !== undefined) return known;
    const fresh = { min: Infinity, max: -Infinity, count: 0, fine: 0 };
    spans.set(column, fresh);
    return fresh;
  }
}

function widen(span: Span, values: Float64Array): void {
  for (const value of values) {
    if (Number.isNaN(value)) continue;
    span.min = Math.min(span.min, value);
    span.max = Math.max(span.max, value);
    span.count += 1;
    const tenths = value / FINER_THAN;
    if (Math.abs(tenths - Math.round(tenths)) > 1e-6) span.fine += 1;
  }
}

function count(
  series: DaySeries,
  pair: (typeof ORDERED)[number],
  counts: { right: number; wrong: number },
): void {
  const great = series.columns.get(pair.great);
  const lesser = series.columns.get(pair.small);
  if (great === undefined || lesser === undefined) return;
  for (const [row, value] of great.entries()) {
    const other = lesser[row] ?? NaN;
    if (!(Math.max(value, other) >= pair.from)) continue;
    if (other > ORDERED_BY * value) counts.wrong += 1;
    else if (value > ORDERED_BY * other) counts.right += 1;
  }
}

type Found = Omit<UserProblem, "where">;

function smallColumns(spans: ReadonlyMap<string, Span>): readonly Found[] {
  return SMALL.flatMap(({ column, max, suggestion }) => {
    const span = spans.get(column);
    if (span === undefined || span.fine < EVIDENCE_ROWS) return [];
    const isSmall = span.min >= SMALL_MIN && span.max <= max;
    if (!isSmall || span.max < FINER_THAN) return [];
    const found = `no value over ${max}, and finer ones than ${FINER_THAN}`;
    const expected = "values in the unit of the column's name";
    return [{ code: "day-unit", key: column, found, expected, suggestion }];
  });
}

function swappedPairs(
  pairs: readonly { readonly right: number; readonly wrong: number }[],
): readonly Found[] {
  return ORDERED.flatMap(({ small: lesser, great }, i) => {
    const { right = 0, wrong = 0 } = pairs[i] ?? {};
    if (wrong < EVIDENCE_ROWS || wrong < 4 * right) return [];
    return [swapped(lesser, great, `${lesser} over ${great} in most rows`)];
  });
}

/** A battery's voltage stays within a band and is never negative; its current is neither. */
function swappedBattery(spans: ReadonlyMap<string, Span>): readonly Found[] {
  const voltage = spans.get("battery_voltage_v");
  const current = spans.get("battery_current_a");
  if (voltage === undefined || current === undefined || voltage.count < EVIDENCE_ROWS) return [];
  const isLikeVoltage = current.min > 8 && current.max < 2 * current.min;
  const isLikeCurrent = voltage.max > 5 * Math.max(voltage.min, 0.1);
  if (!isLikeVoltage || !isLikeCurrent) return [];
  const found = "a voltage that wanders and a current that does not";
  return [swapped("battery_voltage_v", "battery_current_a", found)];
}

function swapped(one: string, other: string, found: string): Found {
  const suggestion = `are ${one} and ${other} swapped?`;
  return {
    code: "day-swapped",
    key: one,
    found,
    expected: "each value under its name",
    suggestion,
  };
}
