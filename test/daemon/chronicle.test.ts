import { describe, expect, test } from "vitest";
import { createChronicle, EVENTS_KEPT } from "../../service/chronicle.ts";
import type { CoreEvent, Decision } from "../../service/control/decision.ts";
import { createMemoryLog } from "../support/log.ts";
import { createManualClock } from "../support/manual-clock.ts";
import { decisionOf } from "../support/scripted-step.ts";
import { testSite } from "../support/site.ts";

function setUp() {
  const clock = createManualClock();
  const { log, lines } = createMemoryLog();
  const ignored: Record<string, number> = { "not-json": 0 };
  const chronicle = createChronicle({
    site: testSite(),
    clock,
    log,
    ignoredCounts: () => ignored,
  });
  return { chronicle, clock, lines, ignored };
}

function decided(stage: number, ...events: readonly CoreEvent[]): Decision {
  return { ...decisionOf({ loadStages: [stage, 0], panelsClosed: [stage > 0] }), events };
}

const LOW: CoreEvent = { about: "site", index: 0, change: "raised", code: "voltage-low" };
const STARTED: CoreEvent = { about: "load", index: 0, change: "started", code: "running" };

function withLowVoltage(...events: readonly CoreEvent[]): Decision {
  const decision = decided(0, ...events);
  const findings = [{ code: "voltage-low" as const, measured: 47.5, limit: 48 }];
  return { ...decision, site: { ...decision.site, findings } };
}

test("an event says whom it is about, in whose words, and why", () => {
  const { chronicle } = setUp();
  chronicle.note(decided(1, STARTED));
  chronicle.note(withLowVoltage(LOW));
  expect(chronicle.eventsAfter(0)).toEqual([
    {
      number: 1,
      event: {
        at: "2026-06-15T10:00:00.000Z",
        about: "load",
        id: "water-heater",
        label: "Water heater",
        change: "started",
        code: "running",
        severity: "info",
        sentence: "on: battery at 3.0 %, stops under 2.0 %",
      },
    },
    {
      number: 2,
      event: {
        at: "2026-06-15T10:00:00.000Z",
        about: "site",
        id: "malga",
        label: "Malga",
        change: "raised",
        code: "voltage-low",
        severity: "alarm",
        sentence: "battery at 47.50 V is under 48.00 V",
      },
    },
  ]);
});

test("each event is logged once, by its gravity; what is over is no warning", () => {
  const { chronicle, lines } = setUp();
  chronicle.note(decided(1, STARTED));
  chronicle.note(withLowVoltage(LOW));
  chronicle.note(withLowVoltage());
  chronicle.note(decided(0, { ...LOW, change: "cleared" }));
  expect(lines).toEqual(["info load started", "warn site raised", "info site cleared"]);
});

test("messages that could not be used are said at once, then at most once a minute", () => {
  const { chronicle, lines, ignored, clock } = setUp();
  for (let second = 0; second < 120; second += 1) {
    ignored["not-json"] = 1_000 * (second + 1);
    chronicle.note(decided(0));
    clock.advance(1_000);
  }
  expect(lines).toEqual(Array(2).fill("warn messages could not be used"));
});

describe("events after a number", () => {
  test("none after the last, none before the first", () => {
    const { chronicle } = setUp();
    expect(chronicle.eventsAfter(0)).toEqual([]);
    chronicle.note(decided(1, STARTED));
    expect(chronicle.eventsAfter(1)).toEqual([]);
    expect(chronicle.lastNumber()).toBe(1);
  });

  test.each([
    [0, null],
    [1, EVENTS_KEPT],
    [2, EVENTS_KEPT - 1],
    [EVENTS_KEPT, 1],
    [EVENTS_KEPT + 1, 0],
    [EVENTS_KEPT + 2, null],
  ])("after %d of one more than are kept: %s", (number, count) => {
    const { chronicle } = setUp();
    for (let index = 0; index <= EVENTS_KEPT; index += 1) chronicle.note(decided(1, STARTED));
    const events = chronicle.eventsAfter(number);
    expect(events?.length ?? null).toBe(count);
    if (events !== null && events.length > 0) expect(events[0]?.number).toBe(number + 1);
  });
});

test("starts and run time are added up; a stage holds from its tick to the next", () => {
  const { chronicle, clock } = setUp();
  for (const stage of [0, 1, 2, 0, 1]) {
    chronicle.note(decided(stage));
    clock.advance(2_000);
  }
  const [heater, pump] = chronicle.loadTotals();
  expect(heater).toEqual({
    id: "water-heater",
    decidedPowerW: 1_000,
    startCount: 2,
    runMs: 4_000,
  });
  expect(pump).toEqual({ id: "spring-pump", decidedPowerW: 0, startCount: 0, runMs: 0 });
});

test("listeners hear each event until they leave", () => {
  const { chronicle } = setUp();
  const heard: number[] = [];
  const leave = chronicle.onEvent(({ number }) => heard.push(number));
  chronicle.note(decided(1, STARTED, STARTED));
  leave();
  chronicle.note(decided(1, STARTED));
  expect(heard).toEqual([1, 2]);
  expect(chronicle.raisedCounts().size).toBe(0);
});
