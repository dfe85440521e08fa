const FORM = /^(\d{4})-(\d\d)-(\d\d)[Tt](\d\d):(\d\d):(\d\d)(\.\d+)?(?:[Zz]|([+-])(\d\d):(\d\d))$/;

const MINUTE_MS = 60_000;

/**
 * An RFC 3339 date-time, offset required, with a colon in it.
 *
 * A leap second (`:60`) is legal there but no instant of ours; like a date that does not exist it
 * gives null.
 *
 * @source RFC 3339, section 5.6
 * @check test/simulator/read-csv.test.ts
 */
export function parseTime(
  text: string,
): { readonly atMs: number; readonly offsetMs: number } | null {
  const match = FORM.exec(text);
  if (match === null) return null;
  const [, year, month, day, hour, minute, second, fraction, sign, offsetHour, offsetMinute] =
    match;
  const wallMs = Date.UTC(Number(year), Number(month) - 1, Number(day));
  const wall = new Date(wallMs);
  const isDate = wall.getUTCMonth() === Number(month) - 1 && wall.getUTCDate() === Number(day);
  const isClock = Number(hour) < 24 && Number(minute) < 60 && Number(second) < 60;
  const isOffset = Number(offsetHour ?? 0) < 24 && Number(offsetMinute ?? 0) < 60;
  if (!isDate || !isClock || !isOffset) return null;
  const ms = fraction === undefined ? 0 : Math.floor(Number(`0${fraction}`) * 1000 + 1e-6);
  const clockMs = ((Number(hour) * 60 + Number(minute)) * 60 + Number(second)) * 1000 + ms;
  const magnitudeMs = (Number(offsetHour ?? 0) * 60 + Number(offsetMinute ?? 0)) * MINUTE_MS;
  const offsetMs = sign === "-" ? -magnitudeMs : magnitudeMs;
  return { atMs: wallMs + clockMs - offsetMs, offsetMs };
}
