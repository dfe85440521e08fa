/** Adds everyday use to a record that has none, so that it can be replayed. */
import { UserError } from "../../service/errors.ts";
import type { DaySeries } from "../days/day-file.ts";
import { createRandom } from "../weather/random.ts";
import { householdMinutes } from "../weather/household.ts";

const MINUTE_MS = 60_000;
const DAY_MS = 86_400_000;
const COLUMN = "base_load_w";

/**
 * The made-up goat dairy's use by the rows' own clock, each local day of its own; a row that lasts
 * longer than a minute takes the mean. The source line says so.
 *
 * @param seed - Same seed, same use. [1] an integer
 */
export function createHousehold(seed: number): (piece: DaySeries) => DaySeries {
  const dayOf = dayCache(seed);
  return (piece) => {
    if (piece.columns.has(COLUMN) || piece.columns.has("total_load_w")) throw hasUse(piece);
    const use = Float64Array.from(piece.timesMs, (atMs, row) => {
      const offsetMs = piece.utcOffsetsMs?.[row] ?? piece.place?.utcOffsetMs ?? 0;
      return meanW(dayOf, atMs + offsetMs, piece.stepMs);
    });
    const said = `${COLUMN} made up (goat dairy, seed ${seed})`;
    return {
      ...piece,
      source: piece.source === null ? said : `${piece.source}; ${said}`,
      columns: new Map([...piece.columns, [COLUMN, use]]),
    };
  };
}

function meanW(dayOf: (day: number) => Float64Array, localMs: number, stepMs: number): number {
  const first = Math.floor(localMs / MINUTE_MS);
  const count = Math.max(1, Math.round(stepMs / MINUTE_MS));
  let sum = 0;
  for (let minute = first; minute < first + count; minute += 1) {
    const day = Math.floor((minute * MINUTE_MS) / DAY_MS);
    sum += dayOf(day)[minute - (day * DAY_MS) / MINUTE_MS] ?? 0;
  }
  return sum / count;
}

/** Two days at most: an hour may begin in one and end in the next. */
function dayCache(seed: number): (day: number) => Float64Array {
  const days = new Map<number, Float64Array>();
  return (day) => {
    const known = days.get(day);
    if (known !== undefined) return known;
    days.delete(day - 2);
    const fresh = householdMinutes(createRandom(seed + day));
    days.set(day, fresh);
    return fresh;
  };
}

function hasUse(piece: DaySeries): UserError {
  return new UserError([
    {
      code: "import-household",
      where: "--household",
      found: `${piece.name} has a column of use already`,
      expected: "a record without base_load_w and total_load_w",
    },
  ]);
}
