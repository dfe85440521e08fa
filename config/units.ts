/** The units in which quantities are written, and how each is spelled. */
export type Dimension =
  | "power"
  | "apparentPower"
  | "energy"
  | "voltage"
  | "current"
  | "charge"
  | "resistance"
  | "frequency"
  | "duration"
  | "temperature"
  | "temperatureDifference"
  | "angle"
  | "length"
  | "volume"
  | "flow"
  | "irradiance"
  | "fraction";

export interface Unit {
  readonly symbol: string;
  readonly dimension: Dimension;
  /** SI value = number · 10^decade · times. Durations are in ms. */
  readonly decade: number;
  readonly times: number;
  /** For keyboards that lack the symbol: read, and never printed. */
  readonly isTyped: boolean;
}

function unit(symbol: string, dimension: Dimension, [decade, times] = [0, 1]): Unit {
  return { symbol, dimension, decade, times, isTyped: false };
}

function typed(symbol: string, dimension: Dimension, [decade, times] = [0, 1]): Unit {
  return { symbol, dimension, decade, times, isTyped: true };
}

export const PERCENT: Unit = unit("%", "fraction", [-2, 1]);

/**
 * Within a dimension the smallest unit first: printing takes the largest that fits. Each unit has
 * one spelling that is printed; what is typed for it stands behind.
 */
export const UNITS: readonly Unit[] = [
  unit("W", "power"),
  unit("kW", "power", [3, 1]),
  unit("VA", "apparentPower"),
  unit("kVA", "apparentPower", [3, 1]),
  unit("Wh", "energy"),
  unit("kWh", "energy", [3, 1]),
  unit("mV", "voltage", [-3, 1]),
  unit("V", "voltage"),
  unit("mA", "current", [-3, 1]),
  unit("A", "current"),
  unit("Ah", "charge"),
  unit("mΩ", "resistance", [-3, 1]),
  unit("Ω", "resistance"),
  typed("mOhm", "resistance", [-3, 1]),
  typed("Ohm", "resistance"),
  unit("Hz", "frequency"),
  unit("ms", "duration"),
  unit("s", "duration", [3, 1]),
  unit("min", "duration", [3, 60]),
  unit("h", "duration", [3, 3600]),
  unit("d", "duration", [3, 86_400]),
  unit("°C", "temperature"),
  typed("C", "temperature"),
  unit("K", "temperatureDifference"),
  unit("°", "angle"),
  typed("deg", "angle"),
  unit("m", "length"),
  unit("L", "volume"),
  unit("L/min", "flow"),
  unit("W/m²", "irradiance"),
  typed("W/m2", "irradiance"),
  PERCENT,
];

/** Spelled out or in other alphabets; each is told its symbol and not silently accepted. */
export const SPELLINGS: ReadonlyMap<string, string> = new Map(
  Object.entries({
    watt: "W",
    watts: "W",
    volt: "V",
    volts: "V",
    amp: "A",
    amps: "A",
    sec: "s",
    second: "s",
    seconds: "s",
    minute: "min",
    minutes: "min",
    mins: "min",
    hr: "h",
    hour: "h",
    hours: "h",
    day: "d",
    days: "d",
    degree: "°",
    degrees: "°",
    celsius: "°C",
    percent: "%",
    litre: "L",
    litres: "L",
    metre: "m",
    metres: "m",
    ohms: "Ω",
  }),
);
