/**
 * Weeks as ISO 8601 numbers them: Monday to Sunday, and the first of a year is the one with its
 * first Thursday. ISO 8601-1:2019, 3.1.1.23 and 5.2.4 (from memory).
 */
const DAYS = 7;
const DAY_MS = 86_400_000;
/** 1970-01-01 was a Thursday: the Monday of its week. */
const FIRST_MONDAY = -3;
/** From a Monday to the Thursday that decides to which year the week belongs. */
const TO_THURSDAY = 3;

/** @returns The local day of the Monday of the week in which `localDay` lies. */
export function mondayOf(localDay: number): number {
  return localDay - ((((localDay - FIRST_MONDAY) % DAYS) + DAYS) % DAYS);
}

/** @returns Such as `2026-W10`. */
export function weekText(localDay: number): string {
  const thursday = mondayOf(localDay) + TO_THURSDAY;
  const year = new Date(thursday * DAY_MS).getUTCFullYear();
  const number = (mondayOf(localDay) - firstMonday(year)) / DAYS + 1;
  return `${String(year)}-W${String(number).padStart(2, "0")}`;
}

/** @returns The local day of its Monday; null for what is no week of the calendar. */
export function mondayOfWeek(text: string): number | null {
  const match = /^(\d{4})-W(\d{2})$/u.exec(text);
  if (match === null) return null;
  const monday = firstMonday(Number(match[1])) + (Number(match[2]) - 1) * DAYS;
  return weekText(monday) === text ? monday : null;
}

/** 4 January lies in the first week of its year, whatever its weekday. */
function firstMonday(year: number): number {
  return mondayOf(Date.UTC(year, 0, 4) / DAY_MS);
}
