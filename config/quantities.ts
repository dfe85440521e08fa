/**
 * Quantities as a person writes them (`2 kW`, `95 %`, `5 min`) to SI numbers and back.
 *
 * A bare number is refused: `stale: 60` may be seconds or minutes, and guessing wrong by a factor
 * of 60 is worse than asking. Decimal units are shifted in the decimal text before it becomes a
 * number, so that `57 %` is 0.57 and not 0.5700000000000001.
 */
import { nearestWord } from "./suggestions.ts";

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

interface Unit {
  readonly symbol: string;
  readonly dimension: Dimension;
  /** SI value = number · 10^decade · times. Durations are in ms. */
  readonly decade: number;
  readonly times: number;
}

function unit(symbol: string, dimension: Dimension, [decade, times] = [0, 1]): Unit {
  return { symbol, dimension, decade, times };
}

/** Within a dimension the smallest unit first: printing takes the largest that fits. */
const UNITS: readonly Unit[] = [
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
  unit("mOhm", "resistance", [-3, 1]),
  unit("mΩ", "resistance", [-3, 1]),
  unit("Ohm", "resistance"),
  unit("Ω", "resistance"),
  unit("Hz", "frequency"),
  unit("ms", "duration"),
  unit("s", "duration", [3, 1]),
  unit("min", "duration", [3, 60]),
  unit("h", "duration", [3, 3600]),
  unit("d", "duration", [3, 86_400]),
  unit("C", "temperature"),
  unit("°C", "temperature"),
  unit("K", "temperatureDifference"),
  unit("deg", "angle"),
  unit("°", "angle"),
  unit("m", "length"),
  unit("L", "volume"),
  unit("L/min", "flow"),
  unit("W/m2", "irradiance"),
  unit("W/m²", "irradiance"),
  unit("%", "fraction", [-2, 1]),
];

/** Motors are rated in VA or in W; both say how much the inverter must carry. */
const ALSO_ACCEPTED: Partial<Record<Dimension, Dimension>> = { apparentPower: "power" };

/** Spelled out or in other alphabets; each is told its symbol and not silently accepted. */
const SPELLINGS: ReadonlyMap<string, string> = new Map(
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
    degree: "deg",
    degrees: "deg",
    celsius: "°C",
    percent: "%",
    litre: "L",
    litres: "L",
    metre: "m",
    metres: "m",
    ohms: "Ohm",
  }),
);

export interface QuantityProblem {
  readonly code: "unit-missing" | "wrong-unit" | "not-a-quantity";
  readonly expected: string;
  readonly suggestion?: string;
}

export type ParsedQuantity =
  | { readonly ok: true; readonly value: number }
  | { readonly ok: false; readonly problem: QuantityProblem };

const QUANTITY = /^([+-]?(?:\d+\.?\d*|\.\d+))(?:[eE]([+-]?\d{1,3}))?\s*(.*)$/u;

export function parseQuantity(written: string | number, dimension: Dimension): ParsedQuantity {
  const text = String(written).trim().replace(/^−/u, "-");
  const match = QUANTITY.exec(text.replace(/(?<=\d),(?=\d)/u, "."));
  const digits = match?.[1];
  if (match === null || digits === undefined) {
    return refuse("not-a-quantity", dimension, `such as ${exampleOf(dimension)}`);
  }
  const exponent = Number(match[2] ?? "0");
  const symbol = match[3] ?? "";
  const number = { digits, exponent };
  if (/\d,\d/u.test(text)) {
    const tail = symbol === "" ? "" : ` ${symbol}`;
    return refuse("not-a-quantity", dimension, `with a decimal point: ${digits}${tail}`);
  }
  if (symbol === "") return refuse("unit-missing", dimension, proposal(number, dimension));
  const found = unitsOf(dimension).find((candidate) => candidate.symbol === symbol);
  if (found === undefined) {
    return refuse("wrong-unit", dimension, unitSuggestion(number, symbol, dimension));
  }
  const value = toSi(number, found);
  if (!Number.isFinite(value)) return refuse("not-a-quantity", dimension, undefined);
  return { ok: true, value };
}

/** @returns The value with the largest unit that reads back to exactly the same number. */
export function formatQuantity(value: number, dimension: Dimension): string {
  const own = UNITS.filter((candidate) => candidate.dimension === dimension);
  for (const candidate of own.toReversed()) {
    const number = fromSi(value, candidate);
    // Nobody says 1.5 h for a quota of 90 min, but 6.6 kW rather than 6600 W.
    const isOwnUnit = dimension !== "duration" || Number.isInteger(number);
    const isReadable = isOwnUnit && Math.abs(number) >= 1 && Math.abs(number) < 1e21;
    if (isReadable && toSi(splitNumber(number), candidate) === value) {
      return `${String(number)} ${candidate.symbol}`;
    }
  }
  const base = own.find((candidate) => candidate.decade === 0 && candidate.times === 1);
  if (base !== undefined) return `${String(value)} ${base.symbol}`;
  return `${String(fromSi(value, unit("%", "fraction", [-2, 1])))} %`;
}

/** The units that a quantity of this dimension may carry, for messages and the JSON Schema. */
export function unitSymbols(dimension: Dimension): readonly string[] {
  return unitsOf(dimension).map((candidate) => candidate.symbol);
}

/** @returns What a number in this unit is multiplied by to be SI; `undefined`: no unit of it. */
export function unitScale(symbol: string, dimension: Dimension): number | undefined {
  const known = unitsOf(dimension).find((candidate) => candidate.symbol === symbol);
  return known === undefined ? undefined : Number(`1e${String(known.decade)}`) * known.times;
}

interface WrittenNumber {
  readonly digits: string;
  readonly exponent: number;
}

function toSi(number: WrittenNumber, of: Unit): number {
  return Number(`${number.digits}e${String(number.exponent + of.decade)}`) * of.times;
}

function fromSi(value: number, of: Unit): number {
  const { digits, exponent } = splitNumber(value / of.times);
  return Number(`${digits}e${String(exponent - of.decade)}`);
}

function splitNumber(value: number): WrittenNumber {
  const [digits = "0", exponent = "0"] = String(value).split("e");
  return { digits, exponent: Number(exponent) };
}

function unitsOf(dimension: Dimension): readonly Unit[] {
  const also = ALSO_ACCEPTED[dimension];
  return UNITS.filter(
    (candidate) => candidate.dimension === dimension || candidate.dimension === also,
  );
}

function refuse(
  code: QuantityProblem["code"],
  dimension: Dimension,
  suggestion: string | undefined,
): ParsedQuantity {
  const expected = `${NOUNS[dimension]} with its unit (${unitSymbols(dimension).join(", ")})`;
  return {
    ok: false,
    problem: { code, expected, ...(suggestion === undefined ? {} : { suggestion }) },
  };
}

const NOUNS: Readonly<Record<Dimension, string>> = {
  power: "a power",
  apparentPower: "an apparent power",
  energy: "an energy",
  voltage: "a voltage",
  current: "a current",
  charge: "a charge",
  resistance: "a resistance",
  frequency: "a frequency",
  duration: "a duration",
  temperature: "a temperature",
  temperatureDifference: "a difference of temperature",
  angle: "an angle",
  length: "a length",
  volume: "a volume",
  flow: "a flow",
  irradiance: "an irradiance",
  fraction: "a share",
};

const EXAMPLES: Readonly<Record<Dimension, string>> = {
  power: "750 W",
  apparentPower: "4.5 kVA",
  energy: "3 kWh",
  voltage: "27.6 V",
  current: "40 A",
  charge: "400 Ah",
  resistance: "10 mOhm",
  frequency: "50 Hz",
  duration: "5 min",
  temperature: "58 °C",
  temperatureDifference: "4 K",
  angle: "38 deg",
  length: "1350 m",
  volume: "200 L",
  flow: "20 L/min",
  irradiance: "800 W/m2",
  fraction: "95 %",
};

export function exampleOf(dimension: Dimension): string {
  return EXAMPLES[dimension];
}

/** What a bare number may have meant: `2000` of power is "2000 W or 2 kW". */
function proposal(number: WrittenNumber, dimension: Dimension): string {
  const value = Number(`${number.digits}e${String(number.exponent)}`);
  const written = String(value);
  if (dimension === "fraction") {
    const isShare = Math.abs(value) <= 1;
    const asPercent = Number(`${number.digits}e${String(number.exponent + 2)}`);
    return isShare && value !== 0 ? `${String(asPercent)} %` : `${written} %`;
  }
  if (dimension === "duration") return `${written} s or ${written} min?`;
  const symbols = unitSymbols(dimension);
  const base = dimension === "voltage" ? "V" : dimension === "current" ? "A" : (symbols[0] ?? "");
  const kilo = symbols.find((symbol) => symbol === `k${base}`);
  if (kilo !== undefined && Math.abs(value) >= 1000) {
    const inKilo = Number(`${number.digits}e${String(number.exponent - 3)}`);
    return `${written} ${base} or ${String(inKilo)} ${kilo}?`;
  }
  const mayBeKilo = kilo !== undefined && Math.abs(value) < 100;
  return mayBeKilo ? `${written} ${base} or ${written} ${kilo}?` : `${written} ${base}`;
}

function unitSuggestion(
  number: WrittenNumber,
  symbol: string,
  dimension: Dimension,
): string | undefined {
  const symbols = unitSymbols(dimension);
  const spelled = SPELLINGS.get(symbol.toLowerCase());
  const sameLetters = symbols.find((known) => known.toLowerCase() === symbol.toLowerCase());
  const near = nearestWord(symbol, symbols);
  const meant =
    spelled !== undefined && symbols.includes(spelled) ? spelled : (sameLetters ?? near);
  const isOtherDimension = UNITS.some((known) => known.symbol === symbol);
  if (isOtherDimension && sameLetters === undefined) {
    const other = UNITS.find((known) => known.symbol === symbol);
    const noun = other === undefined ? "something else" : NOUNS[other.dimension];
    return `${symbol} is the unit of ${noun}; write for example ${exampleOf(dimension)}`;
  }
  if (meant === undefined) return `for example ${exampleOf(dimension)}`;
  const shown = splitNumber(Number(`${number.digits}e${String(number.exponent)}`));
  return `${shown.digits} ${meant}`;
}
