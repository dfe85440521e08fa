/**
 * The battery as a linear programme can have it: energy in the cells, and straight lines that the
 * growth of this energy never exceeds. Each line gives the battery a little more than the plant
 * does, so that what is best for them is out of reach for everybody else.
 */
import type { BatteryPlantSettings } from "../plant/battery-settings.ts";
import { cellEnergyWhPerAh, cellVoltageV } from "../plant/lfp-cell.ts";
import { restEnergyWhPerAh, restVoltageV } from "../plant/lead-acid-cell.ts";
import { concaveHull } from "./concave-hull.ts";
import type { Line } from "./concave-hull.ts";
import type { PowerLine } from "./bound-step.ts";

export interface BatteryCurve {
  /** Rises with the state of charge. [Wh] */
  energyWh(socFraction: number): number;
  /** Where the highest set-point is the rest voltage, so that no current flows. [Wh] */
  readonly topWh: number;
  /** What may be in the slow part of the cells beside that. [Wh] */
  readonly slackWh: number;
  /**
   * dE/dt ≤ offset − fall · E: near full the set-point lets in less and less. Closest to the curve
   * from this charge on, and no limit below it.
   */
  acceptance(lowestFraction: number): readonly Line[];
  /** Lines for a step that begins at this charge or more. */
  chargeLines(lowestFraction: number, powerW: number): readonly PowerLine[];
  dischargeLine(powerW: number): PowerLine;
  /** The charge by the power that it takes; null: all charge is stored alike. */
  readonly powerMeasure: PowerMeasure | null;
  /** Most that such a power can add from this charge on, if there is no load. [W] */
  gainW(socFraction: number, powerW: number): number;
}

export interface PowerMeasure {
  /** Of the straight piece in which an energy lies: a point of it, and its slope upside down. */
  at(energyWh: number): {
    readonly energyWh: number;
    /** What it takes, at least, to charge up to it from empty. [Wh] */
    readonly powerWh: number;
    /** Of the power, here. [1] 0…1 */
    readonly storedShare: number;
  };
}

export interface CurveOptions {
  /** Highest voltage to which it is ever charged. [V] */
  readonly setPointV: number;
  /** Most that the sources give: where the set-point lets in more, it does not matter. [W] */
  readonly sourcesW: number;
}

/** Rest voltage over terminal voltage is never less while charging. [1] */
const VOLTAGE_RATIO_MIN = 0.9;
const SAMPLES = 400;
const HALVINGS = 50;
/** Lines are made for charges this close to one another. [1] */
const BUCKETS = 40;

export function batteryCurve(battery: BatteryPlantSettings, options: CurveOptions): BatteryCurve {
  const cell = battery.kind === "lfp" ? lfpCell(battery) : leadAcidCell(battery);
  const { setPointV, sourcesW } = options;
  const topFraction = restsAt(cell, setPointV / battery.cells);
  const energyWh = (soc: number): number => battery.cells * cell.energyWhPerAh(soc) * cell.ah;
  const acceptedW = (soc: number): number => {
    const restV = battery.cells * cell.restV(soc);
    const currentA = Math.max(0, setPointV - restV) / cell.chargeOhm(soc);
    return restV * currentA * cell.storedShare(soc);
  };
  const acceptanceFrom = (lowestFraction: number): readonly Line[] => {
    const span = topFraction - lowestFraction;
    const points = Array.from({ length: SAMPLES + 1 }, (_, i) => {
      const soc = lowestFraction + (span * i) / SAMPLES;
      return { x: energyWh(soc), y: acceptedW(soc) };
    });
    return concaveHull(points, sourcesW);
  };
  const known = new Map<number, readonly Line[]>();
  /** I²R at the least current that can carry this power. */
  const lossPerW2 = (ohm: number): number => ohm / (setPointV * setPointV);
  return {
    energyWh,
    topWh: energyWh(topFraction),
    slackWh: cell.slackWh,
    acceptance(lowestFraction) {
      const bucket = Math.max(0, Math.floor(Math.min(lowestFraction, topFraction) * BUCKETS - 1));
      const lines = known.get(bucket) ?? acceptanceFrom(bucket / BUCKETS);
      known.set(bucket, lines);
      return lines;
    },
    chargeLines(lowestFraction, powerW) {
      const share = cell.storedShare(lowestFraction);
      const loss = lossPerW2(cell.chargeOhm(lowestFraction));
      const bent = Math.min(powerW, 0.5 / loss);
      return [
        { slope: share, interceptW: 0 },
        { slope: share * (1 - 2 * loss * bent), interceptW: share * loss * bent * bent },
      ];
    },
    dischargeLine(powerW) {
      const loss = lossPerW2(cell.dischargeOhm);
      return { slope: 1 - 2 * loss * powerW, interceptW: loss * powerW * powerW };
    },
    powerMeasure: battery.kind === "lead-acid" ? powerMeasure(cell, energyWh, sourcesW) : null,
    gainW: (soc, powerW) =>
      powerW <= 0 ? powerW : Math.min(cell.storedShare(soc) * powerW, acceptedW(soc)),
  };
}

/** Full is never reached by what is stored: from here on it is taken to be so. [1] */
const STORED_MIN = 0.02;

/** The longest step of a replay. [h] */
const STEP_MAX_H = 1 / 60;

/**
 * Straight pieces, each with the share of a charge below it: more than what is stored in it, also
 * by a plant that holds a share over the whole of a step.
 *
 * @param energyWh - Of a state of charge.
 */
function powerMeasure(
  cell: Cell,
  energyWh: (soc: number) => number,
  sourcesW: number,
): PowerMeasure {
  const energies = Array.from({ length: SAMPLES + 1 }, (_, i) => energyWh(i / SAMPLES));
  const pieceWh = ((energies[SAMPLES] ?? 1) - (energies[0] ?? 0)) / SAMPLES;
  const behind = Math.ceil((sourcesW * STEP_MAX_H) / pieceWh) + 1;
  const shares = energies.map((_, i) =>
    Math.max(STORED_MIN, cell.storedShare(Math.max(0, i - behind) / SAMPLES)),
  );
  const powers = [0];
  for (let i = 1; i <= SAMPLES; i += 1) {
    const grownWh = (energies[i] ?? 0) - (energies[i - 1] ?? 0);
    powers.push((powers[i - 1] ?? 0) + grownWh / (shares[i - 1] ?? 1));
  }
  return {
    at(wantedWh) {
      let low = 0;
      let high = SAMPLES;
      while (high - low > 1) {
        const middle = Math.floor((low + high) / 2);
        if ((energies[middle] ?? 0) <= wantedWh) low = middle;
        else high = middle;
      }
      const storedShare = shares[low] ?? 1;
      const powerWh = (powers[low] ?? 0) + (wantedWh - (energies[low] ?? 0)) / storedShare;
      return { energyWh: wantedWh, powerWh, storedShare };
    },
  };
}

interface Cell {
  readonly ah: number;
  readonly energyWhPerAh: (soc: number) => number;
  readonly restV: (soc: number) => number;
  /** Never more than the plant's. [Ω] */
  readonly chargeOhm: (soc: number) => number;
  readonly dischargeOhm: number;
  /** Of the power at the terminals, never less than the plant stores; falls with the charge. */
  readonly storedShare: (soc: number) => number;
  readonly slackWh: number;
}

/** The slow resistance is left out: for a minute it carries nothing. */
function lfpCell(battery: Extract<BatteryPlantSettings, { kind: "lfp" }>): Cell {
  const { seriesOhm, diffusionOhm, diffusionS, capacityAh } = battery;
  const slowV = capacityAh * diffusionOhm;
  return {
    ah: capacityAh,
    energyWhPerAh: cellEnergyWhPerAh,
    restV: cellVoltageV,
    chargeOhm: () => seriesOhm,
    dischargeOhm: seriesOhm,
    storedShare: () => 1 - VOLTAGE_RATIO_MIN * (1 - battery.coulombicEfficiencyFraction),
    slackWh: ((0.5 * diffusionS) / diffusionOhm) * slowV * slowV * (1 / 3600),
  };
}

function leadAcidCell(battery: Extract<BatteryPlantSettings, { kind: "lead-acid" }>): Cell {
  const { seriesOhm, polarisationOhm, polarisationSpare, gassingExponent } = battery;
  return {
    ah: battery.capacityAh,
    energyWhPerAh: restEnergyWhPerAh,
    restV: restVoltageV,
    chargeOhm: (soc) => seriesOhm + polarisationOhm / (1 - soc + polarisationSpare),
    dischargeOhm: seriesOhm,
    storedShare: (soc) => 1 - Math.exp(gassingExponent * Math.log(Math.max(soc, 1e-9))),
    slackWh: 0,
  };
}

/** State of charge at which the cells rest at this voltage; 1 if they never do. [1] 0…1 */
function restsAt(cell: Cell, cellV: number): number {
  let low = 0;
  let high = 1;
  if (cell.restV(high) <= cellV) return high;
  for (let i = 0; i < HALVINGS; i += 1) {
    const middle = (low + high) / 2;
    if (cell.restV(middle) <= cellV) low = middle;
    else high = middle;
  }
  return high;
}
