/** Units in which other programs write what a day file holds. */
import { columnRule } from "../days/column-rules.ts";

interface Conversion {
  readonly times: number;
  readonly plus: number;
  /** The value is an energy: that of one step. */
  readonly isPerStep: boolean;
}

const HOUR_S = 3600;
const KELVIN = 273.15;

function by(times: number, plus = 0): Conversion {
  return { times, plus, isPerStep: false };
}

/** @param joules - Of one unit. [J] or [J/m²] */
function energy(joules: number): Conversion {
  return { times: joules, plus: 0, isPerStep: true };
}

const FAHRENHEIT = by(5 / 9, -160 / 9);

const CONVERSIONS: Readonly<Record<string, Readonly<Record<string, Conversion>>>> = {
  W: {
    W: by(1),
    kW: by(1000),
    mW: by(0.001),
    MW: by(1_000_000),
    Wh: energy(HOUR_S),
    kWh: energy(1000 * HOUR_S),
  },
  "W/m²": {
    "W/m²": by(1),
    "W/m2": by(1),
    "kW/m²": by(1000),
    "kW/m2": by(1000),
    "Wh/m²": energy(HOUR_S),
    "Wh/m2": energy(HOUR_S),
    "kJ/m²": energy(1000),
    "kJ/m2": energy(1000),
    "J/cm²": energy(10_000),
    "J/cm2": energy(10_000),
  },
  V: { V: by(1), mV: by(0.001) },
  A: { A: by(1), mA: by(0.001) },
  "%": { "%": by(1), fraction: by(100) },
  "°C": { "°C": by(1), C: by(1), K: by(1, -KELVIN), "°F": FAHRENHEIT, F: FAHRENHEIT },
  "m/s": { "m/s": by(1), "km/h": by(1 / 3.6), mph: by(0.44704), kn: by(1852 / HOUR_S) },
  "": {},
};

export function unitsFor(column: string): readonly string[] {
  return Object.keys(CONVERSIONS[columnRule(column).unit] ?? {});
}

export function isUnitFor(column: string, unit: string): boolean {
  return unitsFor(column).includes(unit);
}

/**
 * Factor and addend that turn the unit into the column's own; null where an energy of one step
 * stands and the step is not known.
 */
export function conversionOf(
  column: string,
  unit: string | undefined,
  stepS: number | null,
): { readonly times: number; readonly plus: number } | null {
  const own = columnRule(column).unit;
  const { times, plus, isPerStep } = CONVERSIONS[own]?.[unit ?? own] ?? by(1);
  if (!isPerStep) return { times, plus };
  return stepS === null ? null : { times: times / stepS, plus };
}
