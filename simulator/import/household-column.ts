/** Adds everyday use to a record that has none, so that it can be replayed. */
import { UserError } from "../../service/errors.ts";
import { GAP_MAX_MS } from "../days/day-file.ts";
import type { DaySeries } from "../days/day-file.ts";
import { createRandom } from "../weather/random.ts";
import { householdMinutes } from "../weather/household.ts";

const MINUTE_MS = 60_000;
const DAY_MS = 86_400_000;
const DAY_MINUTES = DAY_MS / MINUTE_MS;
const COLUMN = "base_load_w";

export interface Household {
  /** Use by the minutes of a local day, counted from 1970. [W] */
  readonly dayOf: (localDay: number) => Float64Array;
  /** What the source line says of it. */
  readonly said: string;
}

/**
 * The made-up goat dairy, each local day of its own.
 *
 * @param seed - Same seed, same use. [1] an integer
 */
export function madeUpHousehold(seed: number): Household {
  const days = new Map<number, Float64Array>();
  return {
    said: `${COLUMN} made up (goat dairy, seed ${seed})`,
    dayOf: (day) => {
      const known = days.get(day);
      if (known !== undefined) return known;
      // Two days at most: an hour may begin in one and end in the next.
      days.delete(day - 2);
      const fresh = householdMinutes(createRandom(seed + day));
      days.set(day, fresh);
      return fresh;
    },
  };
}

/**
 * The use that another day file holds, its whole days taken in turn by the clock.
 *
 * @throws UserError if no day of it is whole.
 */
export async function recordedHousehold(
  name: string,
  pieces: AsyncIterable<DaySeries>,
): Promise<Household> {
  const byDay = new Map<number, Float64Array>();
  for await (const piece of pieces) {
    const use = piece.columns.get(COLUMN);
    if (use === undefined) throw noUse(name, `no column ${COLUMN}`);
    for (const [row, powerW] of use.entries()) holdMinutes(byDay, piece, { row, powerW });
  }
  const days = [...byDay.values()].filter((day) => !day.some(Number.isNaN));
  if (days.length === 0) throw noUse(name, "no day without a hole");
  const whole = days.length === 1 ? "one whole day" : `${days.length} whole days in turn`;
  return {
    said: `${COLUMN} of ${name}, its ${whole}`,
    dayOf: (day) => days[((day % days.length) + days.length) % days.length] ?? new Float64Array(0),
  };
}

/** A row's use holds until the next row, and over no hole. */
function holdMinutes(
  byDay: Map<number, Float64Array>,
  piece: DaySeries,
  { row, powerW }: { readonly row: number; readonly powerW: number },
): void {
  if (Number.isNaN(powerW)) return;
  const atMs = piece.timesMs[row] ?? 0;
  const nextMs = piece.timesMs[row + 1] ?? piece.endMs ?? atMs + piece.stepMs;
  const longestMs = Math.max(GAP_MAX_MS, 1.5 * piece.stepMs);
  if (nextMs - atMs > longestMs) return;
  const first = Math.floor((atMs + offsetAt(piece, row)) / MINUTE_MS);
  const count = Math.max(1, Math.round((nextMs - atMs) / MINUTE_MS));
  for (let minute = first; minute < first + count; minute += 1) {
    const day = Math.floor(minute / DAY_MINUTES);
    const minutes = byDay.get(day) ?? new Float64Array(DAY_MINUTES).fill(NaN);
    byDay.set(day, minutes);
    minutes[minute - day * DAY_MINUTES] = powerW;
  }
}

/** Adds the use by the rows' own clock; a row that lasts longer than a minute takes the mean. */
export function withUse(household: Household, piece: DaySeries): DaySeries {
  if (piece.columns.has(COLUMN) || piece.columns.has("total_load_w")) throw hasUse(piece);
  const use = Float64Array.from(piece.timesMs, (atMs, row) =>
    meanW(household, atMs + offsetAt(piece, row), piece.stepMs),
  );
  return {
    ...piece,
    source: piece.source === null ? household.said : `${piece.source}; ${household.said}`,
    columns: new Map([...piece.columns, [COLUMN, use]]),
  };
}

function meanW({ dayOf }: Household, localMs: number, stepMs: number): number {
  const first = Math.floor(localMs / MINUTE_MS);
  const count = Math.max(1, Math.round(stepMs / MINUTE_MS));
  let sum = 0;
  for (let minute = first; minute < first + count; minute += 1) {
    const day = Math.floor(minute / DAY_MINUTES);
    sum += dayOf(day)[minute - day * DAY_MINUTES] ?? 0;
  }
  return sum / count;
}

function offsetAt(piece: DaySeries, row: number): number {
  return piece.utcOffsetsMs?.[row] ?? piece.place?.utcOffsetMs ?? 0;
}

function hasUse(piece: DaySeries): UserError {
  const found = `${piece.name} has a column of use already`;
  return problem(found, "a record without base_load_w and total_load_w");
}

function noUse(name: string, found: string): UserError {
  return problem(`${name}: ${found}`, `a day file with whole days of ${COLUMN}, or a seed`);
}

function problem(found: string, expected: string): UserError {
  return new UserError([{ code: "import-household", where: "--household", found, expected }]);
}
