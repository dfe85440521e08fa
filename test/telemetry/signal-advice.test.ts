/** What people are told of a signal that cannot be used. */
import { expect, test } from "vitest";
import { adviceOf } from "../../service/signal-advice.ts";
import type { SignalView } from "../../service/telemetry/views.ts";
import { testSignal } from "../support/site.ts";

function signal(over: Partial<SignalView>): SignalView {
  return {
    signal: testSignal("battery.voltage", { topic: "shed/battery" }),
    value: null,
    quality: "waiting",
    ageMs: null,
    ignoredCount: 0,
    ignoredCounts: {},
    sensors: [],
    sensorInUse: 0,
    sensorChangeCount: 0,
    ...over,
  };
}

test.each<[Partial<SignalView>, RegExp]>([
  [{}, /^nothing has come: .* this very topic$/u],
  [{ quality: "retained" }, /^only what the broker had kept/u],
  [{ quality: "stale" }, /^it has stopped/u],
  [{ quality: "implausible", ignoredCounts: { "out-of-range": 4 } }, /unit, scale and sign/u],
  [{ quality: "frozen" }, /may be stuck$/u],
  // The commonest misreading counts, and a stuck sensor is not misread.
  [{ ignoredCounts: { "not-json": 1, "no-field": 5 } }, /^messages come, but .* lack the `field`/u],
  [{ quality: "stale", ignoredCounts: { "stamp-ahead": 2 } }, /lies in the future/u],
  [{ quality: "frozen", ignoredCounts: { "not-json": 9 } }, /may be stuck$/u],
])("%o", (over, words) => {
  expect(adviceOf(signal(over))).toMatch(words);
});

test.each(["fresh", "unmapped"] as const)("a signal that is %s needs none", (quality) => {
  expect(adviceOf(signal({ quality, ignoredCounts: { "not-json": 1 } }))).toBeNull();
});
