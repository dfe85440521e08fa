/** What a person is told of each signal, from what the real table and its traffic have heard. */
import { describe, expect, test } from "vitest";
import type { SignalKey } from "../../config/signals.ts";
import type { SignalSettings } from "../../config/site-settings.ts";
import { liveSignal } from "../../service/live-check/signal-finding.ts";
import type { Heard, LiveSignal } from "../../service/live-check/signal-finding.ts";
import { createTraffic } from "../../service/live-check/traffic.ts";
import { signalOfOne } from "../support/signal.ts";
import { testControl, testSignal } from "../support/site.ts";
import { setUpTable, withSensors } from "../support/table.ts";

function listen(signal: SignalSettings, over: Partial<Heard> = {}) {
  const { clock, table, say } = setUpTable([signal]);
  const traffic = createTraffic();
  return {
    clock,
    say(topic: string, said: string | object, isRetained = false) {
      const text = typeof said === "string" ? said : JSON.stringify(said);
      const payload = new TextEncoder().encode(text);
      traffic.note({ topic, payload, isRetained }, clock.monotonicMs());
      say(topic, said, isRetained);
    },
    found(): LiveSignal {
      const heard = {
        control: testControl(),
        traffic,
        others: [],
        username: null,
        refused: new Set<string>(),
      };
      return liveSignal(table.views()[0]!, { ...heard, ...over });
    },
  };
}

const SOC = testSignal("battery.soc", { topic: "shed/battery", field: "/soc", scale: 0.01 });
const VOLTAGE = (own: object = {}) =>
  signalOfOne({
    key: "battery.voltage",
    ownerId: null,
    topic: "shed/battery",
    field: "/v",
    min: 25.6,
    max: 76.8,
    ...own,
  });

test("a signal that comes is there, with its pace", () => {
  const shed = listen(SOC);
  for (let at = 0; at < 4; at += 1) {
    shed.say("shed/battery", { soc: 50 });
    shed.clock.advance(2_000);
  }
  expect(shed.found()).toMatchObject({
    state: "there",
    isFine: true,
    value: 0.5,
    unit: "1",
    messageCount: 4,
    everyS: 2,
    ageS: 2,
    advice: null,
    notes: [],
  });
});

test("one that comes barely before it is too old is told so", () => {
  const shed = listen(SOC);
  shed.say("shed/battery", { soc: 95.5 });
  shed.clock.advance(30_000);
  shed.say("shed/battery", { soc: 95.4 });
  expect(shed.found().notes).toEqual([]);
  shed.clock.advance(31_000);
  shed.say("shed/battery", { soc: 95.4 });
  expect(shed.found().notes).toEqual([
    "it comes every 30.5 s and is too old after 60 s: give it a longer `stale`, or let it be sent " +
      "more often",
  ]);
});

describe("one that never came", () => {
  test.each<[Partial<Heard>, string]>([
    [
      { others: ["house/meter", "shed/batery", "x/y"] },
      "nothing came on shed/battery; heard instead: shed/batery",
    ],
    [{ others: ["x/y"] }, "nothing came on shed/battery, nor on a topic like it"],
    [
      { others: ["x/y"], username: "bywash" },
      "nothing came on shed/battery, nor on a topic like it; or its access rules keep it from bywash",
    ],
    [
      { others: null },
      "the broker lets us hear no other topics, so that none like it can be named",
    ],
    [
      { refused: new Set(["shed/battery"]) },
      "the broker refuses to let us listen to shed/battery: see its access rules",
    ],
  ])("%#: %s", (over, note) => {
    const found = listen(SOC, over).found();
    expect(found).toMatchObject({ state: "missing", isFine: false, value: null, everyS: null });
    expect(found.advice).toMatch(/^nothing has come/u);
    expect(found.notes).toEqual([note]);
  });

  test("a stranger's topic reaches the terminal without what would act there", () => {
    const [note] = listen(SOC, { others: ["shed/bat\u001b[2Jtery\u202e"] }).found().notes;
    expect(note).toContain("shed/bat·[2Jtery·");
  });
});

test("what the broker had kept is no proof, but of a report that speaks on change alone", () => {
  const shed = listen(SOC);
  shed.say("shed/battery", { soc: 95.5 }, true);
  expect(shed.found()).toMatchObject({ state: "kept", isFine: false, messageCount: 0 });
  const report = listen(
    signalOfOne({ key: "load.{id}.report", ownerId: "pump", topic: "shed/pump", staleMs: null }),
  );
  expect(report.found()).toMatchObject({ state: "missing", isFine: false });
  report.say("shed/pump", "0", true);
  const found = report.found();
  expect(found).toMatchObject({ signal: "load.pump.report", state: "kept", isFine: true });
  expect(found.notes).toEqual([expect.stringContaining("switch it once")]);
});

describe("one that cannot be read names what was said", () => {
  const POWER = (own: object) =>
    signalOfOne({ key: "inverter.power", ownerId: null, topic: "shed/inverter", ...own });
  test.each<[string, SignalSettings, string | object, string]>([
    [
      "another field",
      POWER({ field: "/ac/p" }),
      { ac: { w: 210, v: 230, name: "x" }, "a/b": 3 },
      "its payload has /ac/w (210), /ac/v (230), /a~1b (3)",
    ],
    [
      "JSON where a number is expected",
      POWER({ field: null }),
      { w: 210 },
      "its payload has /w (210)",
    ],
    ["a number where JSON is expected", POWER({ field: "/w" }), "210", "it said: 210; then its"],
    ["a word where JSON is expected", POWER({ field: "/w" }), "off", "it said: off; then its"],
    ["a number with its unit", POWER({ field: null }), "210 W", "it said: 210 W"],
    ["JSON without a number", POWER({ field: "/w" }), { a: "b" }, 'it said: {"a":"b"}'],
    [
      "a word that is not known",
      testSignal("panel.{id}.report", {
        topic: "shed/inverter",
        ownerId: "surplus",
        decoding: { kind: "booleanTable", table: { closed: true, open: false } },
      }),
      "zu",
      "it said: zu; the settings know closed, open",
    ],
  ])("%s", (_name, signal, said, note) => {
    const shed = listen(signal);
    shed.say("shed/inverter", said);
    const found = shed.found();
    expect(found).toMatchObject({ state: "unreadable", isFine: false, messageCount: 1 });
    expect(found.advice).toMatch(/^messages come, but/u);
    expect(found.notes.join("\n")).toContain(note);
  });

  test("and of many fields the nearest first", () => {
    const shed = listen(POWER({ field: "/ac/powr" }));
    const many = Object.fromEntries(["a", "b", "c", "d", "e", "f", "g"].map((name) => [name, 1]));
    shed.say("shed/inverter", { ...many, ac: { power: 7 } });
    expect(shed.found().notes).toEqual([
      "its payload has /ac/power (7), /a (1), /b (1), /c (1), /d (1), /e (1) and more",
    ]);
  });

  test("and nothing of what is no text", () => {
    const { clock, table } = setUpTable([POWER({ field: "/w" })]);
    const traffic = createTraffic();
    const message = {
      topic: "shed/inverter",
      payload: new Uint8Array([0xff, 0xfe]),
      isRetained: false,
    };
    traffic.note(message, clock.monotonicMs());
    table.receive(message);
    const heard = {
      control: testControl(),
      traffic,
      others: [],
      username: null,
      refused: new Set<string>(),
    };
    expect(liveSignal(table.views()[0]!, heard)).toMatchObject({ state: "unreadable", notes: [] });
  });
});

describe("one that is not to be believed is tried in other units", () => {
  test.each<[SignalSettings, object, string | null]>([
    [VOLTAGE(), { v: 52_400 }, '52400 would fit with `unit: "mV"`'],
    [VOLTAGE(), { v: -52.4 }, "-52.4 has the other sign"],
    [VOLTAGE(), { v: 524 }, "524 would fit with `scale: 0.1`"],
    [VOLTAGE(), { v: 0 }, null],
    [
      testSignal("battery.soc", { topic: "shed/battery", field: "/v" }),
      { v: 95.5 },
      '95.5 would fit with `unit: "%"`',
    ],
  ])("%#", (signal, said, note) => {
    const shed = listen(signal.key === "battery.soc" ? narrowed(signal) : signal);
    shed.say("shed/battery", said);
    expect(shed.found()).toMatchObject({
      state: "implausible",
      notes: note === null ? [] : [note],
    });
  });

  const narrowed = (signal: SignalSettings): SignalSettings =>
    withSensors(
      signal,
      signal.sensors.map((sensor) => ({
        ...sensor,
        feeds: sensor.feeds.map((feed) => ({ ...feed, min: 0, max: 1 })),
      })),
    );
});

test("a share that is read as percent is doubted, though it is in range", () => {
  const shed = listen(SOC);
  shed.say("shed/battery", { soc: 0.955 });
  const { state, notes } = shed.found();
  expect(state).toBe("there");
  expect(notes).toEqual([
    '0.955 is read as percent; of a publisher that says 0 to 1 it is `unit: "1"`',
  ]);
});

test.each<[SignalKey, string | null, number, boolean]>([
  ["array.{id}.power", "roof", 13_201, true],
  ["array.{id}.power", "roof", 13_199, false],
  ["inverter.power", null, 32_001, true],
  ["inverter.power", null, 31_999, false],
  ["panel.{id}.power", "surplus", 14_721, true],
  ["load.{id}.power", "water-heater", 4_001, true],
  ["load.{id}.power", "water-heater", 3_999, false],
  ["dcLoads.power", null, 90_000, false],
])("%s of %s at %i W: beyond its rating %s", (key, ownerId, powerW, isDoubted) => {
  const shed = listen(signalOfOne({ key, ownerId, topic: "shed/w" }));
  shed.say("shed/w", String(powerW));
  expect(shed.found().notes.some((note) => note.includes("is rated"))).toBe(isDoubted);
});

test("a fallback that stands in is told", () => {
  const [first, second] = [VOLTAGE(), VOLTAGE({ topic: "shed/spare" })];
  const shed = listen(withSensors(first, [...first.sensors, ...second.sensors]));
  shed.say("shed/spare", { v: 52 });
  expect(shed.found()).toMatchObject({
    state: "there",
    notes: ["a fallback is read: its first sensor (shed/battery) cannot be used"],
  });
});

test("a topic that is read already is named only where no other is near", () => {
  const shed = listen(SOC, { others: ["shed/batery"] });
  const heard = createTraffic();
  heard.note({ topic: "shed/battery2", payload: new Uint8Array(), isRetained: false }, 0);
  expect(shed.found().notes.join()).toContain("heard instead: shed/batery");
  const alone = listen(SOC, { traffic: heard }).found();
  expect(alone.notes.join()).toContain("heard instead: shed/battery2");
});
