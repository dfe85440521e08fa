/** The instant at which a foreign row's interval begins. */
import { parseQuantity } from "../../config/quantities.ts";
import { UserError } from "../../service/errors.ts";
import type { UserProblem } from "../../service/errors.ts";
import type { Row } from "../days/separated-rows.ts";
import { fieldOf, findField, readCell } from "./foreign-file.ts";
import type { FieldReader, ForeignFile } from "./foreign-file.ts";
import type { Mapping } from "./mapping.ts";
import { createTimeReader } from "./time-form.ts";
import { createZone, fixedZone, isZone } from "./zone.ts";
import type { Zone, Zoned } from "./zone.ts";

const HOUR_MS = 3_600_000;

/** @param beforeMs - The stamp of the row before, −Infinity if there is none. [ms] */
export type StampReader = (row: Row, where: string, beforeMs: number) => Zoned | UserProblem;

/** The row's stamp as it stands, wherever in its interval that is. */
export function createStampReader(file: ForeignFile, mapping: Mapping): StampReader {
  const { time } = mapping;
  const fields = time.from.map((place) => fieldOf(place, file, "time.from"));
  const read = createTimeReader(time.form);
  const zone = zoneOf(file, mapping);
  return (row, where, beforeMs) => {
    const text = textOf(fields, row);
    const clock = read?.(text, time.year) ?? null;
    if (clock === null) {
      return { code: "import-time", where, found: text, expected: `a time as ${time.form}` };
    }
    const { localMs, offsetMs } = clock;
    if (offsetMs !== null) return { atMs: localMs - offsetMs, offsetMs };
    const found = zone(localMs, beforeMs);
    if (found !== null) return found;
    return {
      code: "import-time",
      where,
      found: `${text}, an hour that the clocks leave out`,
      expected: "a time that the zone has",
      suggestion: "standard time all year? Then time.zone is an offset such as +01:00",
    };
  };
}

function textOf(fields: readonly FieldReader[], row: Row): string {
  return fields.map((field) => field(row)?.trim() ?? "").join(" ");
}

/** @throws UserError for a zone that the file was to name and does not. */
function zoneOf(file: ForeignFile, { time }: Mapping): Zone {
  if (typeof time.zone === "string") return createZone(time.zone);
  if ("line" in time.zone) return fixedZone(readCell(time.zone, file, "time.zone") * HOUR_MS);
  const { byColumn } = time.zone;
  const name = Object.keys(byColumn).find((column) => findField(column, file) !== null);
  const zone = name === undefined ? undefined : byColumn[name];
  if (zone !== undefined && isZone(zone)) return createZone(zone);
  const expected = `a column ${Object.keys(byColumn).join(" or ")}, and its zone`;
  throw new UserError([{ code: "import-zone", where: file.path, key: "time.zone", expected }]);
}

/** Length of an interval as the mapping says it, or as the first two rows show it. [ms] */
export function stepOf(file: ForeignFile, mapping: Mapping, stamps: StampReader): number | null {
  const { step } = mapping.time;
  if (step !== undefined) {
    const parsed = parseQuantity(step, "duration");
    if (parsed.ok && parsed.value > 0) return parsed.value;
    const expected = "a time such as 1 min or 1 h";
    const where = "the mapping";
    throw new UserError([{ code: "mapping-step", where, key: "time.step", found: step, expected }]);
  }
  const times: number[] = [];
  for (const rows of file.rows()) {
    for (const row of rows.slice(0, 2 - times.length)) {
      const stamp = stamps(row, "", times.at(-1) ?? -Infinity);
      if ("code" in stamp) return null;
      times.push(stamp.atMs);
    }
    if (times.length === 2) break;
  }
  const stepMs = (times[1] ?? 0) - (times[0] ?? 0);
  return times.length === 2 && stepMs > 0 ? stepMs : null;
}

/** What has to be added to a stamp to get the begin of its interval. [ms] */
export function shiftOf(file: ForeignFile, mapping: Mapping, stepMs: number | null): number {
  const { stands, shift } = mapping.time;
  const shiftMs = shift === undefined ? 0 : readCell(shift, file, "time.shift") * HOUR_MS;
  if (stands === "begin") return shiftMs;
  if (stepMs === null) {
    const expected = "time.step, since two rows do not show it";
    throw new UserError([{ code: "import-step", where: file.path, key: "time.step", expected }]);
  }
  // Whole seconds: the satellite's instant is not known better, and stamps stay readable.
  const beginMs = shiftMs - (stands === "end" ? stepMs : stepMs / 2);
  return Math.round(beginMs / 1000) * 1000;
}
