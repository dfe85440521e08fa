/** Prospects made by hand, to be checked with pencil and paper. */
import { STEP_MS } from "../../../service/control/guidance/prospect.ts";
import type { LocalInstant, Prospect, Side } from "../../../service/control/guidance/prospect.ts";
import { coursesOf, startsOf } from "../../../service/control/guidance/starts.ts";
import type { Start, StartsInput } from "../../../service/control/guidance/starts.ts";
import {
  acceptanceTable,
  NOTHING_SEEN,
} from "../../../service/control/outlook/acceptance-table.ts";
import { curveFractions } from "../../../service/control/outlook/curve.ts";
import type { CurveBattery } from "../../../service/control/outlook/curve.ts";
import { itemAt } from "../../../service/control/item-at.ts";
import { lfpBattery } from "../given.ts";
import { appliance } from "./given.ts";

export const DAY_STEPS = 144;
const UNLIMITED = { limitW: 1e9, stepsW: new Array<number>(10).fill(1e9) };

/** 10 kWh, takes whatever comes, loses nothing: 1 kW for an hour is 10 %. */
export const PLAIN_BATTERY: CurveBattery = {
  capacityWh: 10_000,
  voltageShare: 1,
  storedShare: () => 1,
  dischargeEfficiency: 1,
  acceptance: UNLIMITED,
};

/** It takes less and less towards full, as lithium does. */
export const TAPERING_BATTERY: CurveBattery = {
  ...PLAIN_BATTERY,
  voltageShare: 0.96,
  storedShare: () => 0.97,
  acceptance: acceptanceTable(lfpBattery({ capacityAh: 200, nominalVoltageV: 50 }), NOTHING_SEEN),
};

export interface Sketch {
  readonly middleW: readonly number[];
  readonly cautiousW?: readonly number[];
  readonly doubtfulW?: readonly number[];
  readonly battery?: CurveBattery;
  readonly floorFraction?: number;
  readonly targetFraction?: number;
  readonly sunsetSteps?: readonly number[];
  readonly loadsW?: number;
  readonly loadsWantWh?: number;
  readonly completedAt?: number | null;
  readonly baseAcW?: number;
  /** In place of the curve that leads to the target. */
  readonly curve?: number;
  readonly startStep?: number;
}

/** Every step by day, beginning at `startStep` of the local day. */
export function sketched(sketch: Sketch): Prospect {
  const { middleW, cautiousW = middleW, doubtfulW = cautiousW } = sketch;
  const { battery = PLAIN_BATTERY, sunsetSteps = [middleW.length], loadsW = 0 } = sketch;
  const side = (netW: readonly number[]): Side => {
    const curve =
      sketch.curve === undefined
        ? curveTo({ netW, battery, sketch })
        : new Array<number>(netW.length + 1).fill(sketch.curve);
    return { netW, curve, loadsDownTo: curve };
  };
  const localTimes = middleW.map((_, step) => clockOf(step + (sketch.startStep ?? 0)));
  return {
    fromMs: 0,
    middle: side(middleW),
    cautious: side(cautiousW),
    doubtful: side(doubtfulW),
    localTimes,
    isDay: middleW.map(() => true),
    sunsetSteps,
    tomorrowStep: localTimes.findIndex(({ localDay }) => localDay > 0),
    baseAcW: middleW.map(() => sketch.baseAcW ?? 0),
    battery,
    completedAt: sketch.completedAt ?? null,
    loadsW: { today: loadsW, tomorrow: loadsW },
    loadsWantWh: sketch.loadsWantWh ?? Infinity,
  };
}

function curveTo(of: {
  readonly netW: readonly number[];
  readonly battery: CurveBattery;
  readonly sketch: Sketch;
}): readonly number[] {
  return curveFractions({
    netW: of.netW,
    slotH: STEP_MS / 3_600_000,
    battery: of.battery,
    floorFraction: of.sketch.floorFraction ?? 0.2,
    targetFraction: of.sketch.targetFraction ?? 0.5,
    ceilingFraction: 1,
  });
}

function clockOf(step: number): LocalInstant {
  return { localDay: Math.floor(step / DAY_STEPS), localMinute: (step % DAY_STEPS) * 10 };
}

export function startsInput(
  prospect: Prospect,
  socFraction: number,
  over: Partial<StartsInput> = {},
): StartsInput {
  const first = itemAt(prospect.localTimes, 0);
  const startMinute = first.localDay * 1440 + first.localMinute;
  return {
    prospect,
    socFraction,
    nowMs: 0,
    inverterEfficiency: 1,
    inverterW: 10_000,
    localTimeAt: (wallMs) => {
      const minute = startMinute + Math.floor(wallMs / 60_000);
      return { localDay: Math.floor(minute / 1440), localMinute: minute % 1440 };
    },
    ...over,
  };
}

export function startsIn(
  prospect: Prospect,
  socFraction: number,
  over: {
    readonly appliance?: ReturnType<typeof appliance>;
    readonly input?: Partial<StartsInput>;
  } = {},
): readonly Start[] {
  const input = startsInput(prospect, socFraction, over.input);
  return startsOf(over.appliance ?? appliance(), coursesOf(input), input);
}
