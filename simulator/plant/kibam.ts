/**
 * The two-tank (kinetic) model of a battery's capacity: one tank can be drawn on now, the other
 * flows into it through a narrow pipe, so that fast discharge gets less out than slow discharge and
 * a rest brings some of it back.
 *
 * Charge and current in Ah and A, time in h, current positive when discharging, as published.
 *
 * @source J. F. Manwell, J. G. McGowan, "Lead acid battery storage model for hybrid energy
 * systems", Solar Energy 50 (1993); equations as in the SSC library (NREL), CHECKS BA-5
 * @check test/checks/kibam.test.ts
 */
export interface KibamConstants {
  /** Share of the charge that lies in the tank that can be drawn on. [1] 0…1 */
  readonly availableFraction: number;
  /** Of the pipe between the tanks. [1/h] > 0 */
  readonly ratePerH: number;
  /** Charge in both tanks when full; more than can be had at any real rate. [Ah] > 0 */
  readonly chargeMaxAh: number;
}

export interface KibamTanks {
  readonly availableAh: number;
  readonly boundAh: number;
}

/** Capacities at three rates: at the rated hours, at half of them, and in one hour. [Ah] > 0 */
export interface RatedCapacities {
  readonly ratedHours: number;
  readonly ratedAh: number;
  readonly halfAh: number;
  readonly hourAh: number;
}

/** The pipe's constant is looked for up to this, in steps of a thousandth. [1/h] */
const RATE_MAX_PER_H = 5;
const RATE_STEP_PER_H = 0.001;

/** Constants that give the three capacities; the two estimates of the share are averaged. */
export function fitKibam(capacities: RatedCapacities): KibamConstants {
  const { ratedHours, ratedAh, halfAh, hourAh } = capacities;
  let best = { ratePerH: RATE_STEP_PER_H, availableFraction: 1, gap: Infinity };
  for (let i = 1; i * RATE_STEP_PER_H <= RATE_MAX_PER_H; i += 1) {
    const ratePerH = i * RATE_STEP_PER_H;
    const long = shareFor({ ratio: hourAh / ratedAh, hours: ratedHours, ratePerH });
    const half = shareFor({ ratio: hourAh / halfAh, hours: ratedHours / 2, ratePerH });
    const gap = Math.abs(long - half);
    if (gap < best.gap) best = { ratePerH, availableFraction: (long + half) / 2, gap };
  }
  const { ratePerH, availableFraction } = best;
  const drained = drainFactor({ ratePerH, availableFraction }, ratedHours);
  return {
    ratePerH,
    availableFraction,
    chargeMaxAh: (ratedAh * drained) / (ratePerH * availableFraction * ratedHours),
  };
}

/** Share in the first tank for which one hour gives `ratio` of what `hours` give. */
function shareFor(given: {
  readonly ratio: number;
  readonly hours: number;
  readonly ratePerH: number;
}): number {
  const { ratio, hours, ratePerH } = given;
  const fast = ratio * (1 - Math.exp(-ratePerH)) * hours;
  const slow = 1 - Math.exp(-ratePerH * hours);
  return (fast - slow) / (fast - slow - ratePerH * ratio * hours + ratePerH * hours);
}

/** 1 − e^(−kT) + c·(kT − 1 + e^(−kT)): what a constant current drains the first tank by. */
function drainFactor(
  constants: Pick<KibamConstants, "ratePerH" | "availableFraction">,
  hours: number,
): number {
  const rateTime = constants.ratePerH * hours;
  const emptied = -Math.expm1(-rateTime);
  return emptied + constants.availableFraction * (rateTime - emptied);
}

/** What a full battery gives at the constant current that empties it in `hours`. [Ah] */
export function capacityAh(constants: KibamConstants, hours: number): number {
  const { availableFraction, ratePerH, chargeMaxAh } = constants;
  const drained = drainFactor(constants, hours);
  return (chargeMaxAh * ratePerH * availableFraction * hours) / drained;
}

/** Both tanks level with one another. */
export function restedTanks(constants: KibamConstants, chargeAh: number): KibamTanks {
  const availableAh = chargeAh * constants.availableFraction;
  return { availableAh, boundAh: chargeAh - availableAh };
}

/** Largest constant discharge that the first tank can give over the time. [A] ≥ 0 */
export function dischargeMaxA(constants: KibamConstants, tanks: KibamTanks, hours: number): number {
  return Math.max(0, headA(constants, tanks, hours));
}

function headA(constants: KibamConstants, tanks: KibamTanks, hours: number): number {
  const { availableFraction, ratePerH } = constants;
  const decay = Math.exp(-ratePerH * hours);
  const inflow = (tanks.availableAh + tanks.boundAh) * availableFraction * (1 - decay);
  return (ratePerH * (tanks.availableAh * decay + inflow)) / drainFactor(constants, hours);
}

/** The tanks after `hours` at constant current; their sum changes by current × time alone. */
export function tanksAfter(
  constants: KibamConstants,
  tanks: KibamTanks,
  drawn: { readonly dischargeA: number; readonly hours: number },
): KibamTanks {
  const { availableFraction, ratePerH } = constants;
  const { dischargeA, hours } = drawn;
  const rateTime = ratePerH * hours;
  const emptied = -Math.expm1(-rateTime);
  const chargeAh = tanks.availableAh + tanks.boundAh;
  const availableAh =
    tanks.availableAh * (1 - emptied) +
    ((chargeAh * ratePerH * availableFraction - dischargeA) * emptied) / ratePerH -
    (dischargeA * availableFraction * (rateTime - emptied)) / ratePerH;
  return { availableAh, boundAh: chargeAh - dischargeA * hours - availableAh };
}

/** The same charge, with what the first tank cannot hold in the other one. */
export function spilled(constants: KibamConstants, tanks: KibamTanks): KibamTanks {
  const brimAh = constants.availableFraction * constants.chargeMaxAh;
  if (tanks.availableAh <= brimAh) return tanks;
  return { availableAh: brimAh, boundAh: tanks.boundAh + tanks.availableAh - brimAh };
}
