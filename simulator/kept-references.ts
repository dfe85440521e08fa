/**
 * The same days replayed with one settings after the other: the shed without opportunity loads,
 * which most settings do not touch, is simulated once.
 */
import { invariant } from "../service/control/invariant.ts";
import type { Place } from "./days/day-file.ts";
import type { PlantTruth } from "./plant/plant-truth.ts";
import type { WritableInput } from "./plant-input.ts";
import { createReference } from "./reference.ts";
import type { ReferenceOptions } from "./reference.ts";
import type { SunsetStep } from "./sunset-watch.ts";

/** What is read of it in a replay. */
export interface ReferenceRun {
  readonly truth: Pick<PlantTruth, "socFraction" | "absorptionsCompleted">;
  step(input: WritableInput, at: SunsetStep, place: Place): void;
  settle(): void;
}

/** What the run depends on besides the shed; its days are the same by agreement. */
export interface ReferenceDays {
  readonly timeZone: string;
  readonly sitePlace: Place;
  /** [s] */
  readonly stepS: number;
  readonly mayBridge: boolean;
}

export type ReferenceOf = (options: ReferenceOptions, days: ReferenceDays) => ReferenceRun;

/** By step: after it, and before it is settled. */
interface Track {
  readonly under: string;
  readonly socFractions: number[];
  readonly absorptions: number[];
}

/** @returns references that keep the last run; all are of the same days, and go to their end. */
export function keepReferences(): ReferenceOf {
  let kept: Track | null = null;
  return (options, days) => {
    const under = keyOf(options, days);
    if (kept?.under === under) return playedBack(kept);
    kept = { under, socFractions: [], absorptions: [] };
    return recorded(options, kept);
  };
}

function keyOf({ settings, startFraction, sunsetTargetFraction }: ReferenceOptions, days: unknown) {
  const shed = { ...settings, loads: [], panelCount: 0 };
  return JSON.stringify([shed, startFraction, sunsetTargetFraction, days]);
}

function recorded(options: ReferenceOptions, track: Track): ReferenceRun {
  const reference = createReference(options);
  const truth = { socFraction: 0, absorptionsCompleted: 0 };
  return {
    truth,
    step(input, at, place) {
      reference.step(input, at, place);
      truth.socFraction = reference.truth.socFraction;
      truth.absorptionsCompleted = reference.truth.absorptionsCompleted;
      track.socFractions.push(truth.socFraction);
      track.absorptions.push(truth.absorptionsCompleted);
    },
    settle: () => reference.settle(),
  };
}

function playedBack(track: Track): ReferenceRun {
  const truth = { socFraction: 0, absorptionsCompleted: 0 };
  let at = 0;
  return {
    truth,
    step() {
      const socFraction = track.socFractions[at];
      const absorptions = track.absorptions[at];
      invariant(
        socFraction !== undefined && absorptions !== undefined,
        "the same days have passed",
      );
      truth.socFraction = socFraction;
      truth.absorptionsCompleted = absorptions;
      at += 1;
    },
    settle: () => undefined,
  };
}
