/**
 * What the sources could give now, though nothing measures it while the arrays are held back:
 * clear-sky model × what the site was learned to differ × how clear it was when that could last be
 * seen.
 */
import { modelPowerW } from "../solar/array-model.ts";
import { isDark } from "./dark.ts";
import { heldPower } from "./held-arrays.ts";
import type { HeldArray, SeenSky } from "./held-arrays.ts";
import {
  irradianceClearness,
  sensedRange,
  sensorFactorAfter,
  sensorSeenAfter,
  sensorSpreadAfter,
} from "./irradiance.ts";
import { countAt, itemAt, numberAt } from "./item-at.ts";
import type { Observation, SourceObservation } from "./observation.ts";
import type { ClearnessMemory, PotentialMemory, ResponseSlot } from "./potential-memory.ts";
import type { ArraySettings, SteadySourceSettings } from "./settings.ts";
import { fractionAt, learnResponse, responseAt, sunAt } from "./site-response.ts";
import type { HiddenArray } from "./site-response.ts";
import { isBatteryOpen, isUncurtailed } from "./uncurtailed.ts";
import type { UncurtailedInput } from "./uncurtailed.ts";
import { unseenLow } from "./unseen-range.ts";

const SLOT_MS = 300_000;
const CLEARNESS_MS = 600_000;
const SLOW_CLEARNESS_MS = 90 * 60_000;
/** Lower sun than this tells little of the arrays: less model power than this share of the peak. */
const MODEL_MIN_FRACTION = 0.03;
const CLEARNESS_MAX = 3;

/** At the battery bus; null: not known. [W] */
export interface PotentialFigures {
  readonly potentialLowW: number | null;
  readonly potentialW: number | null;
  readonly potentialHighW: number | null;
  /** Of the low potential, what no source delivers and no dump burns now. [W] ≥ 0 */
  readonly hiddenLowW: number;
  /** …and of what a load may be started on, since it has to prove itself. [W] ≥ `hiddenLowW` */
  readonly hiddenStartW: number;
}

export interface PotentialJudgement {
  readonly memory: PotentialMemory;
  readonly figures: PotentialFigures;
}

type PotentialInput = UncurtailedInput & { readonly dtMs: number };

const UNKNOWN: PotentialFigures = {
  potentialLowW: null,
  potentialW: null,
  potentialHighW: null,
  hiddenLowW: 0,
  hiddenStartW: 0,
};
const NOTHING: PotentialFigures = {
  potentialLowW: 0,
  potentialW: 0,
  potentialHighW: 0,
  hiddenLowW: 0,
  hiddenStartW: 0,
};

export function judgePotential(
  memory: PotentialMemory,
  observation: Observation,
  input: PotentialInput,
): PotentialJudgement {
  if (!observation.isWallClockPlausible) return { memory: withoutSlot(memory), figures: UNKNOWN };
  const { sources } = input.settings;
  if (memory.slot === null && isDark(observation, input.settings)) {
    return { memory, figures: NOTHING };
  }
  const round = new Round(memory, observation, input);
  for (let index = 0; index < sources.length; index += 1) {
    const source = itemAt(sources, index);
    const seen = itemAt(observation.sources, index);
    if (source.kind === "array") round.addArray(index, source, seen);
    else round.addTurbine(source, seen);
  }
  return { memory: round.remembered(), figures: round.figures() };
}

interface OpenSlot extends ResponseSlot {
  readonly measuredW: number[];
  readonly modelW: number[];
  readonly ticks: number[];
}

/** One tick's sums over the sources. */
class Round {
  readonly #memory: PotentialMemory;
  readonly #observation: Observation;
  readonly #input: PotentialInput;
  readonly #isOpen: boolean;
  readonly #slot: number;
  /** By the irradiance sensor; null: none, or it is in doubt. */
  readonly #sensed: number | null;
  readonly #hidden: HeldArray[] = [];
  #seen: SeenSky | null = null;
  #isKnown = true;
  #deliveredW = 0;
  #lowW = 0;
  #startW = 0;
  #middleW = 0;
  #highW = 0;
  #clearMeasuredW = 0;
  #clearExpectedW = 0;
  #clearGeneralW = 0;
  #clearPeakW = 0;
  #next: OpenSlot | null = null;

  constructor(memory: PotentialMemory, observation: Observation, input: PotentialInput) {
    this.#memory = memory;
    this.#observation = observation;
    this.#input = input;
    this.#isOpen = isBatteryOpen(observation, input);
    this.#slot = Math.floor(observation.wallMs / SLOT_MS);
    this.#sensed = irradianceClearness(observation, input.settings);
  }

  /** What a dump burns that nobody measures may be all that the turbine does not deliver. */
  addTurbine({ peakW }: SteadySourceSettings, { powerW, dumpPowerW }: SourceObservation): void {
    if (powerW.quality !== "fresh") {
      this.#isKnown = false;
      return;
    }
    const givenW = Math.max(0, powerW.value);
    if (dumpPowerW.quality === "fresh") this.#addSure(givenW + Math.max(0, dumpPowerW.value));
    else {
      this.#addSure(givenW);
      this.#highW += Math.max(0, peakW - givenW);
    }
  }

  addArray(index: number, array: ArraySettings, seen: SourceObservation): void {
    if (seen.powerW.quality !== "fresh") {
      this.#isKnown = false;
      return;
    }
    const { settings } = this.#input;
    const { wallMs } = this.#observation;
    const measuredW = Math.max(0, seen.powerW.value);
    const modelW = modelPowerW(array, settings, wallMs);
    if (modelW === 0) {
      this.#addSure(measuredW);
      return;
    }
    const response = itemAt(this.#memory.responses, index);
    const at = sunAt(array, settings, wallMs);
    const looked = { observation: this.#observation, input: this.#input };
    if (this.#isOpen && isUncurtailed(array, seen, looked)) {
      this.#addSure(measuredW);
      if (modelW < MODEL_MIN_FRACTION * array.peakW) return;
      this.#clearMeasuredW += measuredW;
      this.#clearPeakW += array.peakW;
      this.#clearExpectedW += modelW * fractionAt(response, at);
      // One day of a lying meter must not make every clear hour after it look dull.
      this.#clearGeneralW += modelW * Math.min(1, response.generalFraction);
      this.#sample(index, measuredW, modelW);
    } else {
      this.#addHidden(array, measuredW, { modelW, at, response });
    }
  }

  #addSure(powerW: number): void {
    this.#deliveredW += powerW;
    this.#lowW += powerW;
    this.#startW += powerW;
    this.#middleW += powerW;
    this.#highW += powerW;
  }

  #addHidden(
    { currentLimitA, peakW }: ArraySettings,
    measuredW: number,
    { modelW, at, response }: HiddenArray,
  ): void {
    const { voltageV } = this.#observation.battery;
    this.#deliveredW += measuredW;
    const { clearness, seenAtMs } = this.#memory.sky;
    if (clearness === null || seenAtMs === null || voltageV.quality !== "fresh") {
      this.#isKnown = false;
      return;
    }
    this.#seen = { clearness, forMs: this.#observation.monotonicMs - seenAtMs };
    const limitW = currentLimitA === null ? Infinity : currentLimitA * voltageV.value;
    const now = responseAt(response, at);
    const expectedW = modelW * now.fraction;
    this.#hidden.push({ measuredW, limitW, peakW, expectedW, lowFactor: unseenLow(now) });
  }

  #sumHidden(): void {
    if (this.#seen === null) return;
    const { sky } = this.#memory;
    const power = heldPower(this.#hidden, this.#seen, sensedRange(this.#sensed, sky));
    this.#lowW += power.lowW;
    this.#startW += power.startW;
    this.#middleW += power.middleW;
    this.#highW += power.highW;
  }

  #sample(index: number, measuredW: number, modelW: number): void {
    this.#next ??= this.#carriedOn();
    const { measuredW: measured, modelW: model, ticks } = this.#next;
    measured[index] = numberAt(measured, index) + measuredW;
    model[index] = numberAt(model, index) + modelW;
    ticks[index] = countAt(ticks, index) + 1;
  }

  /** Lists of this tick's own, to be added to. */
  #carriedOn(): OpenSlot {
    const { slot } = this.#memory;
    if (slot?.slot === this.#slot) {
      const { measuredW, modelW, ticks } = slot;
      return {
        slot: slot.slot,
        measuredW: measuredW.slice(),
        modelW: modelW.slice(),
        ticks: ticks.slice(),
      };
    }
    const nothing = this.#input.settings.sources.map(() => 0);
    return {
      slot: this.#slot,
      measuredW: nothing,
      modelW: nothing.slice(),
      ticks: nothing.slice(),
    };
  }

  figures(): PotentialFigures {
    if (!this.#isKnown) return UNKNOWN;
    this.#sumHidden();
    return {
      potentialLowW: this.#lowW,
      potentialW: this.#middleW,
      potentialHighW: this.#highW,
      hiddenLowW: Math.max(0, this.#lowW - this.#deliveredW),
      hiddenStartW: Math.max(0, this.#startW - this.#deliveredW),
    };
  }

  remembered(): PotentialMemory {
    const { slot, responses, sky } = this.#memory;
    const isOver = slot !== null && slot.slot !== this.#slot;
    if (slot === null && this.#next === null) return this.#memory;
    return {
      responses: isOver ? this.#learned(slot) : responses,
      slot: this.#next ?? (isOver ? null : slot),
      sky: this.#next === null ? sky : this.#skyAfter(sky),
    };
  }

  /** Only a stretch in which an array was never held back, nor out of sight, tells of it. */
  #learned(slot: ResponseSlot): PotentialMemory["responses"] {
    const { settings } = this.#input;
    const ticksMin = Math.floor((0.8 * SLOT_MS) / Math.max(settings.tickMs, this.#input.dtMs));
    const middleMs = (slot.slot + 0.5) * SLOT_MS;
    const { slowClearness } = this.#memory.sky;
    return this.#memory.responses.map((response, index) => {
      const ticks = countAt(slot.ticks, index);
      const modelW = numberAt(slot.modelW, index);
      const array = itemAt(settings.sources, index);
      if (ticks < ticksMin || modelW === 0 || array.kind !== "array") return response;
      return learnResponse(response, {
        ...sunAt(array, settings, middleMs),
        fraction: numberAt(slot.measuredW, index) / modelW,
        powerFraction: modelW / ticks / array.peakW,
        slowClearness,
      });
    });
  }

  #skyAfter(sky: ClearnessMemory): ClearnessMemory {
    const seen = Math.min(CLEARNESS_MAX, this.#clearMeasuredW / this.#clearExpectedW);
    const { dtMs } = this.#input;
    const before = sky.clearness ?? seen;
    const { slowClearness } = sky;
    const bright = Math.min(1, this.#clearMeasuredW / this.#clearGeneralW);
    const sensed = this.#sensed;
    const height = this.#clearExpectedW / this.#clearPeakW;
    return {
      clearness: before + (dtMs / (dtMs + CLEARNESS_MS)) * (seen - before),
      slowClearness: slowClearness + (dtMs / (dtMs + SLOW_CLEARNESS_MS)) * (bright - slowClearness),
      seenAtMs: this.#observation.monotonicMs,
      sensorFactor: sensorFactorAfter(sky, { seen, sensed, dtMs }),
      sensorSeenMs: sensorSeenAfter(sky, { sensed, dtMs }),
      sensorSpread: sensorSpreadAfter(sky, { seen, sensed, dtMs, height }),
    };
  }
}

function withoutSlot(memory: PotentialMemory): PotentialMemory {
  return memory.slot === null ? memory : { ...memory, slot: null };
}
