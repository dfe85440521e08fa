import { describe, expect, test } from "vitest";
import {
  greatestPowerW,
  isAllowed,
  runMs,
  runWh,
} from "../../../service/control/guidance/appliance.ts";
import { appliance, HOUR_MS } from "./given.ts";

test("a run is the sum of its pieces", () => {
  const washer = appliance({
    profile: [
      { powerW: 2100, forMs: HOUR_MS / 3 },
      { powerW: 250, forMs: HOUR_MS },
    ],
  });
  expect(runMs(washer)).toBe(80 * 60_000);
  expect(runWh(washer)).toBeCloseTo(700 + 250, 9);
  expect(greatestPowerW(washer)).toBe(2100);
});

describe("hours", () => {
  const at = (text: string): number => Number(text.slice(0, 2)) * 60 + Number(text.slice(3));
  /** The last minute of a run that ends at 11:00 is 10:59. */
  const run = (from: string, last: string, days = 0) => ({
    fromDay: 100,
    fromMinute: at(from),
    toDay: 100 + days,
    toMinute: at(last),
  });
  const window = (from: string, to: string) => ({ fromMinute: at(from), toMinute: at(to) });
  const rows = [
    ["no rule", [], null, run("23:30", "00:29", 1), true],
    ["done just in time", [], "17:00", run("15:40", "16:59"), true],
    ["a minute late", [], "17:00", run("15:41", "17:00"), false],
    ["past midnight is late by any hour", [], "24:00", run("23:30", "00:29", 1), false],
    ["by midnight", [], "24:00", run("23:00", "23:59"), true],
    ["fills its window", [window("06:00", "07:00")], null, run("06:00", "06:59"), true],
    ["begins too early", [window("06:00", "07:00")], null, run("05:59", "06:58"), false],
    ["ends too late", [window("06:00", "07:00")], null, run("06:01", "07:00"), false],
    ["in a window over midnight", [window("22:00", "02:00")], null, run("23:30", "00:29", 1), true],
    ["in a window of a whole day", [window("00:00", "24:00")], null, run("00:00", "23:59"), true],
    ["past such a window", [window("22:00", "02:00")], null, run("01:30", "02:29"), false],
    [
      "in the second window",
      [window("06:00", "07:00"), window("20:00", "22:00")],
      null,
      run("20:00", "20:59"),
      true,
    ],
    [
      "over both",
      [window("06:00", "07:00"), window("07:00", "08:00")],
      null,
      run("06:30", "07:29"),
      false,
    ],
  ] as const;
  test.each(rows)("%s", (_name, windows, latest, stretch, expected) => {
    const latestFinishMinute = latest === null ? null : at(latest);
    expect(isAllowed({ windows, latestFinishMinute }, stretch)).toBe(expected);
  });
});
