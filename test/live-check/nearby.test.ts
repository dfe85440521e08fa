/** Which of the names that were heard a wrong one may have been meant to be. */
import { expect, test } from "vitest";
import { nearestNames, shown } from "../../service/live-check/nearby.ts";

test.each<[string, readonly string[], readonly string[]]>([
  // A slip, and capitals.
  ["shed/battery", ["shed/batery", "shed/pump"], ["shed/batery"]],
  ["shed/battery", ["Shed/Battery", "shed/batterie2"], ["Shed/Battery"]],
  // Most of the levels are the same, in whatever order.
  ["shed/inverter/ac/power", ["meter/shed/ac/inverter", "x"], ["meter/shed/ac/inverter"]],
  ["/ac/out/watts", ["/ac/out/voltsamperes", "/dc/in"], ["/ac/out/voltsamperes"]],
  // The same thing elsewhere.
  ["shed/heating/tank", ["barn/tank", "barn/pump"], ["barn/tank"]],
  // Nothing is named for the sake of naming something.
  ["shed/battery", ["shed/pump", "weather/pv", "x"], []],
  ["shed/battery", [], []],
  // Equally near ones, but no more than three, by name.
  ["a/b/c", ["a/b/d", "a/b/e", "a/b/f", "a/b/g"], ["a/b/d", "a/b/e", "a/b/f"]],
  ["s/roof/watts", ["s/roof/watt", "s/pump/watts"], ["s/roof/watt"]],
])("%s of %j: %j", (wanted, heard, near) => {
  expect(nearestNames(wanted, heard)).toEqual(near);
});

test("what is shown is one bounded line without what would act on a terminal", () => {
  expect(shown(" a\u001b[31mb\nc\u202ed ")).toBe("a·[31mb·c·d");
  expect(shown("x".repeat(61))).toBe(`${"x".repeat(60)}…`);
});
