/** Instants of the changes: IANA time zone database, as built into the runtime; from its rules. */
import { expect, test } from "vitest";
import { createLocalCalendar } from "../../config/local-calendar.ts";

const DAY_MS = 86_400_000;

function localText(zone: string, instant: string): string {
  const { localDay, localMinute } = createLocalCalendar(zone)(Date.parse(instant));
  const date = new Date(localDay * DAY_MS).toISOString().slice(0, 10);
  const hour = String(Math.floor(localMinute / 60)).padStart(2, "0");
  return `${date} ${hour}:${String(localMinute % 60).padStart(2, "0")}`;
}

test.each([
  // EU: last Sunday of March and October, 01:00 UTC.
  ["Europe/Rome", "2026-03-29T00:59:59.999Z", "2026-03-29 01:59"],
  ["Europe/Rome", "2026-03-29T01:00:00Z", "2026-03-29 03:00"],
  ["Europe/Rome", "2026-10-25T00:59:00Z", "2026-10-25 02:59"],
  ["Europe/Rome", "2026-10-25T01:00:00Z", "2026-10-25 02:00"],
  ["Europe/Rome", "2026-12-31T23:30:00Z", "2027-01-01 00:30"],
  // Tasmania: first Sunday of October and April, 16:00 UTC of the day before.
  ["Australia/Hobart", "2026-10-03T15:59:00Z", "2026-10-04 01:59"],
  ["Australia/Hobart", "2026-10-03T16:00:00Z", "2026-10-04 03:00"],
  ["Australia/Hobart", "2026-04-04T15:59:00Z", "2026-04-05 02:59"],
  ["Australia/Hobart", "2026-04-04T16:00:00Z", "2026-04-05 02:00"],
  // Lord Howe Island moves by half an hour.
  ["Australia/Lord_Howe", "2026-10-03T15:29:00Z", "2026-10-04 01:59"],
  ["Australia/Lord_Howe", "2026-10-03T15:30:00Z", "2026-10-04 02:30"],
  ["Australia/Lord_Howe", "2026-04-04T14:59:00Z", "2026-04-05 01:59"],
  ["Australia/Lord_Howe", "2026-04-04T15:00:00Z", "2026-04-05 01:30"],
  ["UTC", "1970-01-01T00:00:00Z", "1970-01-01 00:00"],
  ["UTC", "1969-12-31T23:59:59Z", "1969-12-31 23:59"],
  ["Asia/Kathmandu", "2026-01-01T00:00:00Z", "2026-01-01 05:45"],
])("%s at %s shows %s", (zone, instant, shown) => {
  expect(localText(zone, instant)).toBe(shown);
});

test.each(["Europe/Rome", "Australia/Hobart", "Australia/Lord_Howe", "America/St_Johns"])(
  "a year in %s agrees with the runtime, forwards and backwards",
  (zone) => {
    const format = new Intl.DateTimeFormat("en-GB", {
      timeZone: zone,
      hourCycle: "h23",
      hour: "2-digit",
      minute: "2-digit",
      day: "2-digit",
    });
    const start = Date.parse("2026-01-01T00:07:00Z");
    const instants = Array.from({ length: 365 * 24 }, (_, hour) => start + hour * 3_600_000);
    for (const order of [instants, instants.toReversed()]) {
      const localTime = createLocalCalendar(zone);
      const wrong = order.filter((wallMs) => {
        const parts = new Map(format.formatToParts(wallMs).map((part) => [part.type, part.value]));
        const { localDay, localMinute } = localTime(wallMs);
        const minute = Number(parts.get("hour")) * 60 + Number(parts.get("minute"));
        const day = new Date(localDay * DAY_MS).getUTCDate();
        return minute !== localMinute || day !== Number(parts.get("day"));
      });
      expect(wrong).toEqual([]);
    }
  },
);

test.each([
  ["Europe/Rome", "2026-03-28T00:59:59Z", null],
  ["Europe/Rome", "2026-03-28T01:00:00Z", ["2026-03-29T01:00:00.000Z", 60]],
  ["Europe/Rome", "2026-03-29T00:59:59Z", ["2026-03-29T01:00:00.000Z", 60]],
  ["Europe/Rome", "2026-03-29T01:00:00Z", null],
  ["Europe/Rome", "2026-10-24T20:00:00Z", ["2026-10-25T01:00:00.000Z", -60]],
  ["Australia/Hobart", "2026-10-02T23:30:00Z", ["2026-10-03T16:00:00.000Z", 60]],
  ["Australia/Hobart", "2026-04-04T16:00:00Z", null],
  ["Australia/Lord_Howe", "2026-04-04T14:59:00Z", ["2026-04-04T15:00:00.000Z", -30]],
  ["UTC", "2026-03-28T12:00:00Z", null],
] as const)("%s at %s has its next change, within a day, at %j", (zone, instant, change) => {
  const { clockChangeMs, clockShiftMin } = createLocalCalendar(zone)(Date.parse(instant));
  const [at, shiftMin] = change ?? [null, 0];
  expect([clockChangeMs, clockShiftMin]).toEqual([at === null ? 0 : Date.parse(at), shiftMin]);
});
