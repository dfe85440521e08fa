/**
 * What became of the power that nobody took: how much of it a load would have taken, and why it did
 * not. It tells where something is to be gained: from a larger tank, or from another threshold.
 */
import type { ControlSettings, LoadSettings } from "../service/control/settings.ts";
import { largestPowerW } from "../service/control/stage-power.ts";
import type { Verdict } from "../service/control/decision.ts";
import type { PlantTruth } from "./plant/plant-truth.ts";
import { UNUSED_REASONS } from "./unused-reasons.ts";
import type { UnusedReason } from "./unused-reasons.ts";

/** At the battery bus, as all that the sources give; their sum is all that nobody took. [Wh] ≥ 0 */
export interface UnusedFigures {
  /** No load wanted more: all had enough, or took already what they can. */
  unwantedWh: number;
  /** A load waited for the battery: the rule curve, a mark, a full charge. */
  batteryFirstWh: number;
  /** It was too little for a load that waited, or nobody could be sure that it was enough. */
  tooLittleWh: number;
  /** A load rested, or waited its turn or its hours. */
  itsTurnWh: number;
  /** Inverter, feeder, legs or battery had no room for a load. */
  noRoomWh: number;
  /** A load was held off, for safety or because a person wanted it so. */
  heldOffWh: number;
}

export interface UnusedLedger {
  /** @param decided - For each load, in the order of the settings. */
  add(
    dtS: number,
    truth: Pick<PlantTruth, "potentialW" | "deliveredW"> & {
      readonly loadPowerW: ArrayLike<number>;
    },
    decided: DecidedLoads,
  ): void;
  figures(): Readonly<UnusedFigures>;
}

interface DecidedLoads {
  readonly loadStages: readonly number[];
  readonly verdicts: readonly Pick<Verdict, "code">[];
}

const S_PER_H = 3600;

export function createUnusedLedger({ loads, inverter }: ControlSettings): UnusedLedger {
  const unused: UnusedFigures = {
    unwantedWh: 0,
    batteryFirstWh: 0,
    tooLittleWh: 0,
    itsTurnWh: 0,
    noRoomWh: 0,
    heldOffWh: 0,
  };
  return {
    add(dtS, { potentialW, deliveredW, loadPowerW }, { loadStages, verdicts }) {
      let leftW = potentialW - deliveredW;
      if (leftW <= 0) return;
      const hours = dtS / S_PER_H;
      for (let i = 0; i < loads.length && leftW > 0; i += 1) {
        const [load, verdict] = [loads[i], verdicts[i]];
        if (load === undefined || verdict === undefined) continue;
        const reason = UNUSED_REASONS[verdict.code];
        const isOn = (loadStages[i] ?? 0) > 0;
        const moreW = reason === "unwanted" ? 0 : couldAddW(load, loadPowerW[i] ?? 0, isOn);
        const takenW = Math.min(leftW, moreW / inverter.efficiencyFraction);
        leftW -= takenW;
        addTo(unused, reason, takenW * hours);
      }
      unused.unwantedWh += Math.max(0, leftW) * hours;
    },
    figures: () => ({ ...unused }),
  };
}

/** A load that is on and draws nothing has opened its own thermostat: it wants nothing. [W] AC */
function couldAddW(load: LoadSettings, drawnW: number, isOn: boolean): number {
  if (isOn && drawnW === 0) return 0;
  return Math.max(0, largestPowerW(load) - drawnW);
}

/** A place for each reason, not a name put together: that takes longer than all the rest. */
function addTo(unused: UnusedFigures, reason: UnusedReason, energyWh: number): void {
  switch (reason) {
    case "unwanted":
      unused.unwantedWh += energyWh;
      break;
    case "batteryFirst":
      unused.batteryFirstWh += energyWh;
      break;
    case "tooLittle":
      unused.tooLittleWh += energyWh;
      break;
    case "itsTurn":
      unused.itsTurnWh += energyWh;
      break;
    case "noRoom":
      unused.noRoomWh += energyWh;
      break;
    case "heldOff":
      unused.heldOffWh += energyWh;
      break;
  }
}
