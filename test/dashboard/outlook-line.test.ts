/** The outlook on the ribbon of the day it belongs to. */
import { expect, test } from "vitest";
import { outlookLine } from "../../service/dashboard/days/outlook-line.ts";
import type { StateView } from "../../service/state-view.ts";
import { stateOf } from "../support/web-app.ts";

const HOUR_MS = 3_600_000;
const DAY = { fromMs: Date.parse("2026-03-01T23:00:00Z"), lengthMin: 1440 };

function stateAt(at: string, sunset: string, socFraction: number | null = 0.8): StateView {
  const state = stateOf("fresh");
  if (state.verdict === null) throw new Error("the test's state has a verdict");
  const outlook = {
    expectedWh: 1,
    cautiousWh: 1,
    baseWh: 1,
    sunsetSocFraction: 0.95,
    sunsetMs: Date.parse(sunset),
    isCompleting: false,
    startsAtMs: [],
  };
  return { ...state, at, verdict: { ...state.verdict, socFraction, outlook } };
}

test("goes from the charge of now to that of sunset", () => {
  expect(outlookLine(stateAt("2026-03-02T11:00:00Z", "2026-03-02T17:00:00Z"), DAY)).toEqual({
    fromMin: 720,
    toMin: 1080,
    fromFraction: 0.8,
    toFraction: 0.95,
  });
});

test.each<[string, StateView]>([
  ["of another day", stateAt("2026-03-03T11:00:00Z", "2026-03-03T17:00:00Z")],
  ["of the day before", stateAt("2026-03-01T11:00:00Z", "2026-03-01T17:00:00Z")],
  ["to tomorrow's sunset", stateAt("2026-03-02T19:00:00Z", "2026-03-03T17:00:00Z")],
  ["from an unknown charge", stateAt("2026-03-02T11:00:00Z", "2026-03-02T17:00:00Z", null)],
  ["of a fixed rule curve", { ...stateOf("fresh"), at: "2026-03-02T11:00:00Z" }],
])("is not drawn %s", (_name, state) => {
  expect(outlookLine(state, DAY)).toBeNull();
  expect(outlookLine(state, { ...DAY, fromMs: DAY.fromMs - 100 * HOUR_MS })).toBeNull();
});
