/**
 * The stair: each load is a step at the height of the battery at which it starts, and comes off it
 * at the height at which it stops. The battery climbs the stair as water would.
 */
import type { SiteView } from "../../site-view.ts";
import type { LoadView, StateView } from "../../state-view.ts";

/** `on`; `waiting` for power, charge or time; `held`: an interlock or latch holds it off. */
export type StepState = "on" | "waiting" | "held";

export interface Step {
  readonly id: string;
  readonly label: string;
  /** Its number in the picture and in the list. */
  readonly number: number;
  /** Heights on the stair's scale. */
  readonly start: number;
  readonly stop: number;
  readonly state: StepState;
  readonly verdict: LoadView;
}

export interface Stair {
  /** What the scale measures. */
  readonly kind: "charge" | "voltage";
  readonly bottom: number;
  readonly top: number;
  /** Where the battery is; null: not known. */
  readonly level: number | null;
  readonly curve: number | null;
  readonly floor: number | null;
  /** Lowest first. */
  readonly steps: readonly Step[];
}

const SCALE_STEP = 0.05;
const BELOW_FLOOR = 0.05;
const VOLTS_AROUND = 1;

/** @returns null while there is nothing to draw. */
export function stairOf(site: SiteView, state: StateView): Stair | null {
  const { verdict } = state;
  if (verdict === null) return null;
  const { voltageMarks, floorFraction } = site.battery;
  if (verdict.socFraction === null && voltageMarks !== null) {
    const steps = stepsOf(site, state, () => ({
      start: voltageMarks.startV,
      stop: voltageMarks.stopV,
    }));
    const level = verdict.restVoltageV;
    const all = [voltageMarks.startV, voltageMarks.stopV, ...(level === null ? [] : [level])];
    return {
      kind: "voltage",
      bottom: Math.floor(Math.min(...all) - VOLTS_AROUND),
      top: Math.ceil(Math.max(...all) + VOLTS_AROUND),
      level,
      curve: null,
      floor: null,
      steps,
    };
  }
  const curve = verdict.ruleCurveFraction;
  const steps = stepsOf(site, state, ({ startAboveFraction, stopBelowFraction }) => ({
    start: curve + startAboveFraction,
    stop: curve - stopBelowFraction,
  }));
  const level = verdict.socFraction;
  const lowest = Math.min(floorFraction, level ?? 1, ...steps.map(({ stop }) => stop));
  const bottom = Math.floor((lowest - BELOW_FLOOR) / SCALE_STEP + 1e-9) * SCALE_STEP;
  return {
    kind: "charge",
    bottom: Math.max(0, bottom),
    top: Math.max(1, ...steps.map(({ start }) => start)),
    level,
    curve,
    floor: floorFraction,
    steps,
  };
}

function stepsOf(
  site: SiteView,
  state: StateView,
  marks: (load: SiteView["loads"][number]) => { readonly start: number; readonly stop: number },
): Step[] {
  const loads = site.loads.flatMap((load) => {
    const verdict = state.loads.find(({ id }) => id === load.id);
    return verdict === undefined ? [] : [{ load, verdict, ...marks(load) }];
  });
  return loads
    .toSorted((a, b) => a.start - b.start || a.load.priority - b.load.priority)
    .map(({ load, verdict, start, stop }, index) => ({
      id: load.id,
      label: load.label,
      number: index + 1,
      start,
      stop,
      state: stateOf(verdict),
      verdict,
    }));
}

function stateOf({ stage, severity, code }: LoadView): StepState {
  if (stage > 0) return "on";
  if (code === "held-off") return "held";
  return severity === "info" ? "waiting" : "held";
}
