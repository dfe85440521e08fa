/**
 * A switch test: while a person stands by, one load is asked to run for some seconds and then held
 * off, and what shows of that is written down.
 *
 * It asks as a person would ask and no more: interlocks, limits, rests and the battery's floor
 * decide as always, and may end it at any tick. Whatever remains in doubt leaves the load held off.
 * Should the service end meanwhile, it switches all off, or its actuators drop by their hold time.
 */
import type { ActuatorSettings, SiteSettings } from "../../config/site-settings.ts";
import type { Decision } from "../control/decision.ts";
import { explainVerdict } from "../control/explain.ts";
import { invariant } from "../control/invariant.ts";
import type { LoadMemory, Memory } from "../control/memory.ts";
import type { Observation, Reading } from "../control/observation.ts";
import type { LoadOrder } from "../requests.ts";
import { closed, firstLooks, lookedAt } from "./looks.ts";
import type { Look, Scene } from "./looks.ts";
import { isProven, outcomeOf } from "./outcome.ts";
import type { TestResult } from "./outcome.ts";

/** What people see of the test under way, or of the last one. */
export interface SwitchTestView {
  readonly id: string;
  readonly label: string;
  readonly phase: "starting" | "on" | "off" | "over";
  /** What was seen after ON, and after OFF. */
  readonly on: readonly Look[];
  readonly off: readonly Look[];
  readonly isProven: boolean;
  /** In words; null while it is under way. */
  readonly outcome: string | null;
}

export type TestBegin =
  | { readonly kind: "begun"; readonly decided: Promise<void> }
  | { readonly kind: "unknown-id" }
  | { readonly kind: "refused"; readonly why: string };

export interface SwitchTests {
  readonly begin: (id: string) => TestBegin;
  /** After each tick. */
  readonly note: (tick: TestTick) => void;
  /** The test under way, or the last one; null: none yet. */
  readonly view: () => SwitchTestView | null;
}

export interface TestTick {
  readonly site: SiteSettings;
  readonly observation: Observation;
  readonly decision: Decision;
  readonly memory: Memory;
}

/** How long it is on, unless the load takes longer to answer. [ms] */
const ON_MS = 20_000;
/** A device that has not answered by then is given up by the core itself. [ms] */
const AFTER_SETTLE_MS = 5_000;
/** Until it must have started: a contactor and a stagger may come first. [ms] */
const START_WITHIN_MS = 60_000;
/** Until it must be seen off, unless the load takes longer to answer. [ms] */
const OFF_WITHIN_MS = 20_000;
/** In doubt it stays off for so long. [ms] */
const HELD_MS = 3_600_000;

/** More than it needs, so that the test ends it and not the request's own end. [ms] */
const SPARE_MS = 10_000;

interface Test extends TestResult {
  readonly id: string;
  readonly label: string;
  readonly phase: SwitchTestView["phase"];
  /** First tick of the present phase; null: none yet. [ms] */
  readonly sinceMs: number | null;
  /** A tick has taken the request. */
  readonly isTaken: boolean;
  readonly expectedW: number;
  /** Just before the command that this phase began with. [W] */
  readonly inverterBeforeW: number | null;
  readonly othersBeforeW: number;
}

export interface SwitchTestOptions {
  readonly mode: "active" | "shadow";
  readonly site: () => SiteSettings;
  readonly memory: () => Memory | null;
  readonly askLoad: (id: string, order: LoadOrder) => Promise<void> | null;
  readonly whenOver: (test: SwitchTestView) => void;
}

export function createSwitchTests(options: SwitchTestOptions): SwitchTests {
  const { askLoad } = options;
  let test: Test | null = null;
  return {
    begin(id) {
      const { loads } = options.site().control;
      const load = loads.find((one) => one.id === id);
      if (load === undefined) return { kind: "unknown-id" };
      const why = test !== null && test.phase !== "over" ? BUSY : refusalOf(id, options);
      if (why !== null) return { kind: "refused", why };
      const forMs = START_WITHIN_MS + onMs(load) + SPARE_MS;
      const decided = askLoad(id, { request: "run", forMs });
      if (decided === null) return { kind: "unknown-id" };
      test = newTest(load, options.site().actuators);
      return { kind: "begun", decided };
    },
    note(tick) {
      if (test === null || test.phase === "over") return;
      const index = tick.site.control.loads.findIndex(({ id }) => id === test?.id);
      test = index < 0 ? gone(test) : stepped(test, { ...tick, index }, askLoad);
      if (test.phase === "over") options.whenOver(viewOf(test));
    },
    view: () => (test === null ? null : viewOf(test)),
  };
}

const BUSY = "another test is under way";

function refusalOf(id: string, { mode, memory }: SwitchTestOptions): string | null {
  if (mode === "shadow") return "in shadow mode nothing is commanded";
  const load = memory()?.loads.find((one) => one.id === id);
  if (load === undefined) return "nothing has been decided yet";
  if (load.stage > 0) return "it is on already, so that nothing would be seen to change";
  return load.asked === null ? null : "it was asked to run or held off: release it first";
}

function newTest(
  { id, label }: { readonly id: string; readonly label: string },
  actuators: readonly ActuatorSettings[],
): Test {
  const actuator = actuators.find((one) => one.kind === "load" && one.id === id);
  return {
    id,
    label,
    phase: "starting",
    sinceMs: null,
    isTaken: false,
    expectedW: 0,
    inverterBeforeW: null,
    othersBeforeW: 0,
    refusal: null,
    interruption: null,
    on: [],
    off: [],
    holdS: actuator === undefined ? null : actuator.holdMs / 1000,
  };
}

function viewOf(test: Test): SwitchTestView {
  const { id, label, phase, on, off } = test;
  const isOver = phase === "over";
  const outcome = isOver ? outcomeOf(test) : null;
  return { id, label, phase, on, off, isProven: isOver && isProven(test), outcome };
}

function gone(test: Test): Test {
  const why = "the settings no longer have it";
  if (test.phase === "starting") return { ...test, phase: "over", refusal: why };
  return { ...test, phase: "over", interruption: why, off: closed(test.off) };
}

type Ask = SwitchTestOptions["askLoad"];

const RELEASE = { request: "release", forMs: 0 } as const;
const HOLD = { request: "hold", forMs: HELD_MS } as const;

interface LoadTick extends TestTick {
  readonly index: number;
}

function stepped(test: Test, tick: LoadTick, ask: Ask): Test {
  switch (test.phase) {
    case "starting":
      return starting(test, tick, ask);
    case "on":
      return on(test, tick, ask);
    case "off":
      return off(test, tick, ask);
    case "over":
      return test;
  }
}

/** It waits for its contactor or its turn; what else speaks against it ends the test. */
function starting(before: Test, tick: LoadTick, ask: Ask): Test {
  const { observation, memory, index } = tick;
  const nowMs = observation.monotonicMs;
  const { load, verdict, settings, sentence, request } = placed(tick);
  const test = {
    ...before,
    sinceMs: before.sinceMs ?? nowMs,
    isTaken: before.isTaken || request === "run",
  };
  if (test.isTaken && verdict.stage > 0) {
    const inverterBeforeW = before.inverterBeforeW ?? freshW(observation.inverter.powerW);
    return {
      ...test,
      phase: "on",
      sinceMs: nowMs,
      expectedW: load.powerW,
      inverterBeforeW,
      othersBeforeW: othersW(memory.loads, index),
      on: firstLooks(settings, inverterBeforeW),
    };
  }
  const isOver = test.isTaken && load.asked?.wants !== "run";
  const isLong = (verdict.remainingMs ?? 0) > START_WITHIN_MS;
  if (isOver || isLong || nowMs - test.sinceMs >= START_WITHIN_MS) {
    if (load.asked?.wants !== "hold") void ask(test.id, RELEASE);
    return { ...test, phase: "over", refusal: sentence };
  }
  return { ...test, inverterBeforeW: freshW(observation.inverter.powerW) };
}

function on(test: Test, tick: LoadTick, ask: Ask): Test {
  const nowMs = tick.observation.monotonicMs;
  const { load, verdict, settings, sentence } = placed(tick);
  const isOff = verdict.stage === 0;
  const on = isOff ? test.on : lookedAt(test.on, sceneOf(test, tick));
  if (!isOff && nowMs - (test.sinceMs ?? nowMs) < onMs(settings)) return { ...test, on };
  if (load.asked?.wants !== "hold") void ask(test.id, HOLD);
  const inverterBeforeW = freshW(tick.observation.inverter.powerW);
  return {
    ...test,
    phase: "off",
    // An OFF that is asked for now is commanded at the next tick.
    sinceMs: isOff ? nowMs : null,
    interruption: isOff ? sentence : null,
    inverterBeforeW,
    othersBeforeW: othersW(tick.memory.loads, tick.index),
    on: closed(on),
    // An inverter that did not show it going on can't show it going off.
    off: firstLooks(settings, isSeenBy("inverter", on) ? inverterBeforeW : null),
  };
}

function isSeenBy(by: Look["by"], looks: readonly Look[]): boolean {
  return looks.some((look) => look.by === by && look.result === "seen");
}

function off(test: Test, tick: LoadTick, ask: Ask): Test {
  const nowMs = tick.observation.monotonicMs;
  const { load, verdict, settings } = placed(tick);
  if (verdict.stage > 0) {
    if (load.asked?.wants !== "hold") void ask(test.id, HOLD);
    return test;
  }
  const sinceMs = test.sinceMs ?? nowMs;
  const off = lookedAt(test.off, sceneOf(test, tick));
  const isOpen = off.some(({ result }) => result === "pending");
  const limitMs = Math.max(OFF_WITHIN_MS, settings.settleMs);
  if (isOpen && nowMs - sinceMs < limitMs) return { ...test, sinceMs, off };
  const over: Test = { ...test, phase: "over", off: closed(off) };
  // Only what leaves no doubt gives the load back.
  if (isProven(over)) void ask(test.id, RELEASE);
  return over;
}

function placed({ site, decision, memory, observation, index }: LoadTick) {
  const verdict = decision.verdicts[index];
  const load = memory.loads[index];
  const settings = site.control.loads[index];
  const seen = observation.loads[index];
  invariant(verdict !== undefined && load !== undefined, "each load must have been decided on");
  invariant(settings !== undefined && seen !== undefined, "each load must have been observed");
  const sentence = explainVerdict(verdict, decision.site);
  return { verdict, load, settings, seen, sentence, request: seen.request };
}

function sceneOf(test: Test, tick: LoadTick): Scene {
  const { observation, memory, index } = tick;
  const { seen, settings, verdict } = placed(tick);
  return {
    load: seen,
    settings,
    stage: verdict.stage,
    inverterW: observation.inverter.powerW,
    sinceMs: observation.monotonicMs - (test.sinceMs ?? observation.monotonicMs),
    expectedW: test.expectedW,
    inverterBeforeW: test.inverterBeforeW,
    othersW: Math.abs(othersW(memory.loads, index) - test.othersBeforeW),
  };
}

function onMs({ settleMs }: { readonly settleMs: number }): number {
  return Math.max(ON_MS, settleMs + AFTER_SETTLE_MS);
}

function othersW(loads: readonly LoadMemory[], index: number): number {
  return loads.reduce((sum, { stage, powerW }, place) => {
    return place === index || stage === 0 ? sum : sum + powerW;
  }, 0);
}

function freshW({ value, quality }: Reading): number | null {
  return quality === "fresh" ? value : null;
}
