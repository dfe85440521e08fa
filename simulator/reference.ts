/**
 * The same shed without its opportunity loads: nobody can have more charge at sunset, or need less
 * of the reserve at night. What it fails at is nobody's fault.
 *
 * At each sunset it gives away what it has above the target: a controller that used the surplus
 * well goes into the night with the target and no more.
 */
import type { Place } from "./days/day-file.ts";
import { createPlant } from "./plant/plant.ts";
import type { PlantSettings } from "./plant/plant-settings.ts";
import type { PlantTruth } from "./plant/plant-truth.ts";
import type { WritableInput } from "./plant-input.ts";
import { createSunsetWatch } from "./sunset-watch.ts";
import type { SunsetStep } from "./sunset-watch.ts";

export interface ReferenceOptions {
  readonly settings: PlantSettings;
  /** [1] 0…1 */
  readonly startFraction: number;
  readonly sunsetTargetFraction: number;
}

export interface Reference {
  readonly truth: PlantTruth;
  /** Its shed has no loads: what `input` says of them counts for nothing. */
  step(input: WritableInput, at: SunsetStep, place: Place): void;
  /** Ends a step: after it `truth` may have less charge than the step brought it to. */
  settle(): void;
  /** The sun sets within the step that has just been made. */
  isSunset(): boolean;
}

export function createReference(options: ReferenceOptions): Reference {
  const { settings, startFraction, sunsetTargetFraction } = options;
  const plant = createPlant({ ...settings, loads: [] }, startFraction);
  let watch: ((step: SunsetStep) => boolean) | null = null;
  let isSunset = false;
  return {
    truth: plant.truth,
    step(input, at, place) {
      watch ??= createSunsetWatch(place);
      plant.step(at.dtS, input);
      isSunset = watch(at);
    },
    settle() {
      if (isSunset) plant.lowerSoc(sunsetTargetFraction);
    },
    isSunset: () => isSunset,
  };
}
