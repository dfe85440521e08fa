/** Weeks of ISO 8601, against published examples and a week counted otherwise. */
import { expect, test } from "vitest";
import { mondayOf, mondayOfWeek, weekText } from "../../service/look-back/iso-week.ts";

const DAY_MS = 86_400_000;
const dayOf = (date: string): number => Date.parse(`${date}T00:00:00Z`) / DAY_MS;
const dateOf = (localDay: number): string => new Date(localDay * DAY_MS).toISOString().slice(0, 10);

/**
 * The first eight: Wikipedia, "ISO week date", section "Examples where the ISO year differs from
 * the Gregorian year" and the table "Contemporary dates around New Year's Day" (from memory).
 */
test.each([
  ["2005-01-01", "2004-W53"],
  ["2005-01-02", "2004-W53"],
  ["2005-12-31", "2005-W52"],
  ["2007-01-01", "2007-W01"],
  ["2008-12-28", "2008-W52"],
  ["2008-12-29", "2009-W01"],
  ["2010-01-03", "2009-W53"],
  ["2010-01-04", "2010-W01"],
  ["2026-03-02", "2026-W10"],
  ["2026-03-08", "2026-W10"],
  ["2026-03-09", "2026-W11"],
  ["1969-12-31", "1970-W01"],
])("%s lies in %s", (date, week) => {
  expect(weekText(dayOf(date))).toBe(week);
});

test("each day of 60 years lies in the week that its Thursday counts", () => {
  for (let day = dayOf("1999-12-01"); day < dayOf("2060-01-01"); day += 1) {
    // Another way: the Thursday of the week, and how many Thursdays its year has had by then.
    const weekday = (new Date(day * DAY_MS).getUTCDay() + 6) % 7;
    const thursday = new Date((day - weekday + 3) * DAY_MS);
    const year = thursday.getUTCFullYear();
    const ofYear = Math.floor((thursday.getTime() - Date.UTC(year, 0, 1)) / DAY_MS / 7) + 1;
    expect(weekText(day)).toBe(`${year}-W${String(ofYear).padStart(2, "0")}`);
    expect(dateOf(mondayOfWeek(weekText(day))!)).toBe(dateOf(day - weekday));
    expect(mondayOf(day)).toBe(day - weekday);
  }
});

test.each(["2026-W00", "2026-W54", "2027-W53", "2026-10", "2026-W1", "W10", "2026-w10", ""])(
  "%s is no week",
  (text) => expect(mondayOfWeek(text)).toBeNull(),
);

test("2026 has a week 53, which ends in 2027", () => {
  expect(dateOf(mondayOfWeek("2026-W53")!)).toBe("2026-12-28");
});
