/**
 * What shows that a load has obeyed: its own report, its own meter, and the step in the inverter's
 * power. Only what has arrived since the command counts.
 */
import type { LoadObservation, Reading } from "../control/observation.ts";
import type { LoadSettings } from "../control/settings.ts";

/**
 * - `unclear`: something else was switched meanwhile, so that the step may be that one's.
 * - `not-measured`: the site has nothing that could show it.
 */
export type LookResult = "pending" | "seen" | "not-seen" | "unclear" | "not-measured";

export interface Look {
  readonly by: "report" | "meter" | "inverter";
  readonly result: LookResult;
  /** From the command to when it was seen. [s] */
  readonly afterS: number | null;
  /** The step in power that was seen. [W] AC */
  readonly stepW: number | null;
}

/** A meter or an inverter that shows this share of it shows the load. common practice, no source */
const STEP_FRACTION = 0.5;
/** …and a meter under this share of it shows that the load is off. common practice, no source */
const REST_FRACTION = 0.3;
/** Others that change by more than this share of it blur its step. Ours, no source */
const BLUR_FRACTION = 0.2;

/** What is held beside what, at one tick after the command. */
export interface Scene {
  readonly load: LoadObservation;
  readonly inverterW: Reading;
  readonly settings: LoadSettings;
  /** Since the command. [ms] */
  readonly sinceMs: number;
  /** Commanded; 0: off. */
  readonly stage: number;
  /** What the load should draw, or have drawn. [W] AC */
  readonly expectedW: number;
  /** The inverter's power just before the command; null: not known. [W] AC */
  readonly inverterBeforeW: number | null;
  /** By how much others were switched since then. [W] */
  readonly othersW: number;
}

export function firstLooks(settings: LoadSettings, inverterBeforeW: number | null): Look[] {
  // What hangs on sockets is not known: nothing plugged in draws nothing.
  const isKnown = settings.sockets === null;
  return [
    look("report", settings.hasReport),
    look("meter", settings.hasMeter && isKnown),
    look("inverter", inverterBeforeW !== null && isKnown),
  ];
}

function look(by: Look["by"], isMeasured: boolean): Look {
  return { by, result: isMeasured ? "pending" : "not-measured", afterS: null, stepW: null };
}

/** Those that are still open, held against this tick. */
export function lookedAt(looks: readonly Look[], scene: Scene): Look[] {
  return looks.map((one) => (one.result === "pending" ? answered(one, scene) : one));
}

/** The time is over: what was not seen by now is not there. */
export function closed(looks: readonly Look[]): Look[] {
  return looks.map((one) => (one.result === "pending" ? { ...one, result: "not-seen" } : one));
}

function answered(one: Look, scene: Scene): Look {
  switch (one.by) {
    case "report":
      return isReported(scene) ? seen(one, scene, null) : one;
    case "meter":
      return byMeter(one, scene);
    case "inverter":
      return byInverter(one, scene);
  }
}

function seen(one: Look, { sinceMs }: Scene, stepW: number | null): Look {
  return { ...one, result: "seen", afterS: Math.round(sinceMs / 100) / 10, stepW };
}

function isReported({ load, settings, sinceMs, stage }: Scene): boolean {
  const value = since(load.reportedStage, sinceMs);
  if (value === null) return false;
  // A modulating device reports how far it is on, in whatever unit.
  return settings.modulating !== null && stage > 0 ? value > 0 : value === stage;
}

function byMeter(one: Look, scene: Scene): Look {
  const { load, sinceMs, stage, expectedW } = scene;
  const powerW = since(load.powerW, sinceMs);
  if (powerW === null) return one;
  const isThere =
    stage > 0 ? powerW >= STEP_FRACTION * expectedW : powerW < REST_FRACTION * expectedW;
  return isThere ? seen(one, scene, stage > 0 ? powerW : null) : one;
}

function byInverter(one: Look, scene: Scene): Look {
  const { inverterW, inverterBeforeW, sinceMs, stage, expectedW, othersW } = scene;
  if (othersW > BLUR_FRACTION * expectedW) return { ...one, result: "unclear" };
  const powerW = since(inverterW, sinceMs);
  if (powerW === null || inverterBeforeW === null) return one;
  const stepW = stage > 0 ? powerW - inverterBeforeW : inverterBeforeW - powerW;
  return stepW >= STEP_FRACTION * expectedW ? seen(one, scene, stepW) : one;
}

/** null unless it is fresh and has come since the command. */
function since({ value, quality, ageMs }: Reading, sinceMs: number): number | null {
  return quality === "fresh" && ageMs < sinceMs ? value : null;
}
