/** The reader's units and clock: by the language at first, by choice from then on. */
import { describe, expect, test } from "vitest";
import { createFormat, unbroken } from "../../service/dashboard/format.ts";
import { unitsFrom, unitsOfLocale } from "../../service/dashboard/units/choice.ts";
import type { Units } from "../../service/dashboard/units/choice.ts";

describe("without a choice", () => {
  test.each<[string, Units]>([
    ["it-IT", { temperature: "C", volume: "L", clock: "24" }],
    ["en-AU", { temperature: "C", volume: "L", clock: "12" }],
    ["en-GB", { temperature: "C", volume: "L", clock: "24" }],
    ["en-US", { temperature: "F", volume: "gal", clock: "12" }],
    ["es-PR", { temperature: "F", volume: "gal", clock: "12" }],
    ["de", { temperature: "C", volume: "L", clock: "24" }],
  ])("%s reads %o", (locale, units) => {
    expect(unitsOfLocale(locale)).toEqual(units);
  });
});

describe("what was kept", () => {
  test("counts before the language", () => {
    const kept = JSON.stringify({ temperature: "F", volume: "gal", clock: "24" });
    expect(unitsFrom(kept, "it-IT")).toEqual({ temperature: "F", volume: "gal", clock: "24" });
  });

  test.each([null, "", "null", "[]", "7", "{", '{"temperature":"K","clock":12}'])(
    "as %s leaves the language's own",
    (kept) => {
      expect(unitsFrom(kept, "it-IT")).toEqual(unitsOfLocale("it-IT"));
    },
  );
});

const formatIn = (units: Partial<Units>) =>
  createFormat({
    locale: "en-GB",
    timeZone: "Europe/Rome",
    units: { temperature: "C", volume: "L", clock: "24", ...units },
  });

test.each([
  [-40, "-40 °F"],
  [0, "32 °F"],
  [37, "98.6 °F"],
  [100, "212 °F"],
])("%d °C is %s", (temperatureC, text) => {
  expect(formatIn({ temperature: "F" }).quantity(temperatureC, "°C")).toBe(unbroken(text));
  expect(formatIn({}).quantity(temperatureC, "°C")).toBe(`${String(temperatureC)}\u00A0°C`);
});

test("a US gallon is 3.785411784 L (NIST Handbook 44, Appendix C)", () => {
  const { quantity } = formatIn({ volume: "gal" });
  expect(quantity(3.785411784, "L")).toBe("1\u00A0gal");
  expect(quantity(37.85411784, "L/min")).toBe("10\u00A0gal/min");
  expect(quantity(230, "V")).toBe("230\u00A0V");
});

test("sentences of the service speak the reader's units, and nothing else in them changes", () => {
  const sentence = "off: the tank is at 75.0 °C, limit -10.0 °C; 3.8 L/min, 1.00 kW, 60.0 %";
  expect(formatIn({ temperature: "F", volume: "gal" }).words(sentence)).toBe(
    unbroken("off: the tank is at 167.0 °F, limit 14.0 °F; 1.0 gal/min, 1.00 kW, 60.0 %"),
  );
  expect(formatIn({}).words(sentence)).toBe(unbroken(sentence));
});

test("no line is broken between a number and its unit, and anywhere else as before", () => {
  expect(
    unbroken("60.0 % of 6.6 kW for 1 h 30 min at 75 °C, 3 L/min, 2 days, 3 starts, 4 dB"),
  ).toBe(
    "60.0\u00A0% of 6.6\u00A0kW for 1\u00A0h 30\u00A0min at 75\u00A0°C, 3\u00A0L/min, " +
      "2 days, 3 starts, 4 dB",
  );
});

test("midnight and noon by both clocks", () => {
  const at = (clock: Units["clock"], instant: string) => formatIn({ clock }).time(instant);
  expect(at("24", "2026-03-01T23:05:00Z")).toBe("00:05");
  expect(at("12", "2026-03-01T23:05:00Z")).toBe("12:05\u00A0am");
  expect(at("24", "2026-03-02T11:05:00Z")).toBe("12:05");
  expect(at("12", "2026-03-02T11:05:00Z")).toBe("12:05\u00A0pm");
});
