/** The web application over a state that the test makes up, and a real chronicle. */
import { createLocalCalendar } from "../../config/local-calendar.ts";
import { testAlert } from "../../service/alerts.ts";
import { createChronicle } from "../../service/chronicle.ts";
import type { Clock } from "../../service/clock.ts";
import { createGuidanceDesk } from "../../service/guidance-desk.ts";
import type { GuidanceView } from "../../service/guidance-view.ts";
import { buildLearnedView } from "../../service/learned-view.ts";
import { buildStateView } from "../../service/state-view.ts";
import type { StateView } from "../../service/state-view.ts";
import type { PastDesk } from "../../service/past-desk.ts";
import type { SettingsDesk } from "../../service/settings-desk.ts";
import { createApp } from "../../service/web/app.ts";
import type { WebSource } from "../../service/web/source.ts";
import { createMemoryLog } from "./log.ts";
import type { WhatIfDesk } from "../../service/what-if-desk.ts";
import { createManualClock, DEFAULT_WALL_MS } from "./manual-clock.ts";
import { decisionOf } from "./scripted-step.ts";
import { testSignal, testSite } from "./site.ts";

export const TOKEN = "a-token-of-more-than-16-characters";

export function stateOf(quality: "fresh" | "stale", isBrokerConnected = true): StateView {
  return buildStateView({
    site: testSite(),
    version: "1.2.3",
    mode: "active",
    isTimeSimulated: false,
    wallMs: DEFAULT_WALL_MS,
    isBrokerConnected,
    brokerTroubles: isBrokerConnected ? [] : ["nothing listens at that address"],
    decision: decisionOf({ loadStages: [2, 0], panelsClosed: [true] }),
    memory: null,
    switchTest: null,
    signals: [
      {
        signal: testSignal("battery.voltage", { topic: "shed/battery" }),
        value: 54.1,
        quality,
        ageMs: 1_234,
        ignoredCount: 2,
        ignoredCounts: { "not-json": 2 },
        sensors: [{ topics: ["shed/battery"], value: 54.1, quality, ageMs: 1_234 }],
        sensorInUse: 0,
        sensorChangeCount: 0,
      },
    ],
    counters: {
      tickCount: 5,
      overrunCount: 0,
      receivedCount: 9,
      ignoredCounts: {},
      commandCount: 3,
      brokerLossCount: 0,
      requestCounts: { accepted: 0, retained: 0, malformed: 0 },
    },
  });
}

/** Before the first tick: no advice, and why. */
function adviceless(clock: Clock): GuidanceView {
  const site = testSite();
  const localTime = createLocalCalendar(site.timeZone);
  return createGuidanceDesk({ site, localTime, clock }).view();
}

/** As if a broker had taken it. */
function sentAlert(): ReturnType<WebSource["testAlert"]> {
  const alert = testAlert(testSite(), DEFAULT_WALL_MS);
  return Promise.resolve({ alert, topic: "bywash/malga/alert", isDelivered: true });
}

export function createTestApp(
  how: {
    readonly state?: () => StateView;
    readonly lastTickAgeMs?: number | null;
    readonly reading?: "token" | "open";
    readonly past?: PastDesk;
    readonly whatIf?: WhatIfDesk;
    readonly dashboardFolder?: string;
    readonly requestLoad?: WebSource["requestLoad"];
    readonly testAlert?: WebSource["testAlert"];
    readonly testSwitch?: WebSource["testSwitch"];
    readonly learned?: WebSource["learned"];
    readonly guidance?: WebSource["guidance"];
    readonly settings?: SettingsDesk;
  } = {},
) {
  const cleared: string[] = [];
  const unlearnt: string[] = [];
  const { log, lines } = createMemoryLog();
  const { lastTickAgeMs = 0 } = how;
  const clock = createManualClock();
  const chronicle = createChronicle({ site: testSite(), clock, log, ignoredCounts: () => ({}) });
  const source: WebSource = {
    site: () => testSite(),
    isTimeSimulated: false,
    state: how.state ?? (() => stateOf("fresh")),
    lastTickAgeMs: () => lastTickAgeMs,
    tickMs: () => 2_000,
    reload: null,
    settings: how.settings ?? null,
    chronicle,
    past: how.past ?? null,
    whatIf: how.whatIf ?? null,
    testAlert: how.testAlert ?? sentAlert,
    testSwitch: how.testSwitch ?? (() => ({ kind: "unknown-id" })),
    requestLoad: how.requestLoad ?? (() => null),
    guidance: how.guidance ?? (() => adviceless(clock)),
    learned: how.learned ?? (() => buildLearnedView(testSite(), null, DEFAULT_WALL_MS)),
    requestUnlearn: (what) => {
      if (what !== "array.roof") return false;
      unlearnt.push(what);
      return true;
    },
    requestClear: (kind, id) => {
      if (id !== "water-heater" && id !== "surplus") return false;
      cleared.push(`${kind} ${id}`);
      return true;
    },
  };
  const app = createApp({
    token: TOKEN,
    settings: { host: "127.0.0.1", reading: how.reading ?? "token" },
    clock,
    log,
    source,
    ...(how.dashboardFolder === undefined ? {} : { dashboardFolder: how.dashboardFolder }),
  });
  return { app, source, chronicle, clock, cleared, unlearnt, log, lines };
}
