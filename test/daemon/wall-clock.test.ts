/** Which clocks are believed: with and without a time that the run before has left. */
import { expect, test } from "vitest";
import { plausibleWallMs } from "../../service/wall-clock.ts";

const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;
const YEAR_MS = 365 * DAY_MS;
const LAST_MS = Date.UTC(2026, 5, 15, 10);
const BOOT_MS = 12_000;

test.each<[string, number, number | null, boolean]>([
  ["1970 at boot, nothing known", BOOT_MS, null, false],
  ["1970 at boot", BOOT_MS, LAST_MS, false],
  ["right after 1970 was saved", LAST_MS, BOOT_MS, true],
  ["2100", Date.UTC(2100, 0, 1), null, false],
  ["the last instant of 2099", Date.UTC(2100, 0, 1) - 1, null, true],
  ["the first instant of 2020", Date.UTC(2020, 0, 1), null, true],
  ["the instant before it", Date.UTC(2020, 0, 1) - 1, null, false],
  ["an hour later", LAST_MS + HOUR_MS, LAST_MS, true],
  ["a day later", LAST_MS + DAY_MS, LAST_MS, true],
  ["a year later: nobody can tell", LAST_MS + YEAR_MS, LAST_MS, true],
  ["an hour back", LAST_MS - HOUR_MS, LAST_MS, true],
  ["a day back", LAST_MS - DAY_MS, LAST_MS, true],
  ["more than a day back", LAST_MS - DAY_MS - 1, LAST_MS, false],
  ["a year back: as a computer that kept its last time", LAST_MS - YEAR_MS, LAST_MS, false],
])("%s", (_what, wallMs, savedMs, isBelieved) => {
  const restored = savedMs === null ? null : { wallMs: savedMs };
  const found = plausibleWallMs({ clock: { wallMs: () => wallMs }, restored });
  expect(found).toBe(isBelieved ? wallMs : null);
});

test("a record may be of any year", () => {
  const clock = { wallMs: () => BOOT_MS };
  expect(plausibleWallMs({ clock, recordedTime: {}, restored: { wallMs: LAST_MS } })).toBe(BOOT_MS);
});
