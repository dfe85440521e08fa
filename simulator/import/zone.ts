/** Local times of a foreign file as instants. */
import { createLocalCalendar } from "../../config/local-calendar.ts";

const MINUTE_MS = 60_000;
const DAY_MS = 86_400_000;
const OFFSET = /^([+-])(\d\d):?(\d\d)$/;

export interface Zoned {
  readonly atMs: number;
  readonly offsetMs: number;
}

/**
 * @param localMs - Clock time as if it were UTC.
 * @param beforeMs - The instant of the row before: of two hours that look alike when the clocks go
 *   back, the first is taken that comes after it.
 * @returns null for an hour that the clocks leave out.
 */
export type Zone = (localMs: number, beforeMs: number) => Zoned | null;

export function isZone(name: string): boolean {
  if (name === "UTC" || OFFSET.test(name)) return true;
  try {
    createLocalCalendar(name);
    return true;
  } catch {
    return false;
  }
}

/** @param name - `UTC`, an offset such as `-07:00`, or a name of the IANA data base; checked. */
export function createZone(name: string): Zone {
  const [, sign, hours, minutes] = OFFSET.exec(name) ?? [];
  if (sign !== undefined) {
    const magnitudeMs = (Number(hours) * 60 + Number(minutes)) * MINUTE_MS;
    return fixedZone(sign === "-" ? -magnitudeMs : magnitudeMs);
  }
  return name === "UTC" ? fixedZone(0) : ruledZone(name);
}

export function fixedZone(offsetMs: number): Zone {
  return (localMs) => ({ atMs: localMs - offsetMs, offsetMs });
}

function ruledZone(name: string): Zone {
  const calendar = createLocalCalendar(name);
  return (localMs, beforeMs) => {
    // No clock is a day from UTC, so the offsets before and after any change are these two.
    const offsets = new Set([offsetAt(localMs - DAY_MS), offsetAt(localMs + DAY_MS)]);
    const possible = [...offsets]
      .map((offsetMs) => ({ atMs: localMs - offsetMs, offsetMs }))
      .filter(({ atMs, offsetMs }) => offsetAt(atMs) === offsetMs)
      .sort((one, other) => one.atMs - other.atMs);
    return possible.find(({ atMs }) => atMs > beforeMs) ?? possible.at(-1) ?? null;
  };

  function offsetAt(atMs: number): number {
    const { localDay, localMinute } = calendar(atMs);
    return localDay * DAY_MS + localMinute * MINUTE_MS - Math.floor(atMs / MINUTE_MS) * MINUTE_MS;
  }
}
