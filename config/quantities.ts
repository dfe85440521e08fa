/**
 * Quantities as a person writes them (`2 kW`, `95 %`, `5 min`) to SI numbers and back.
 *
 * A bare number is refused: `stale: 60` may be seconds or minutes, and guessing wrong by a factor
 * of 60 is worse than asking. Decimal units are shifted in the decimal text before it becomes a
 * number, so that `57 %` is 0.57 and not 0.5700000000000001.
 */
import { nearestWord } from "./suggestions.ts";
import { PERCENT, SPELLINGS, UNITS } from "./units.ts";
import type { Dimension, Unit } from "./units.ts";

/** Motors are rated in VA or in W; both say how much the inverter must carry. */
const ALSO_ACCEPTED: Partial<Record<Dimension, Dimension>> = { apparentPower: "power" };

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
  const own = UNITS.filter(({ isTyped, ...of }) => !isTyped && of.dimension === dimension);
  for (const candidate of own.toReversed()) {
    const number = fromSi(value, candidate);
    // Nobody says 1.5 h for a quota of 90 min, but 6.6 kW rather than 6600 W.
    const isOwnUnit = dimension !== "duration" || Number.isInteger(number);
    const isReadable = isOwnUnit && Math.abs(number) >= 1 && Math.abs(number) < 1e21;
    if (isReadable && toSi(splitNumber(number), candidate) === value) {
      return written(String(number), candidate.symbol);
    }
  }
  if (value === 0 && dimension === "duration") return "0 s";
  const base = own.find((candidate) => candidate.decade === 0 && candidate.times === 1);
  if (base !== undefined) return written(String(value), base.symbol);
  return `${String(fromSi(value, PERCENT))} %`;
}

/** Between a number and its unit stands a space, but none before the degree of an angle. */
function written(number: string, symbol: string): string {
  return symbol === "°" ? `${number}°` : `${number} ${symbol}`;
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
  resistance: "10 mΩ",
  frequency: "50 Hz",
  duration: "5 min",
  temperature: "58 °C",
  temperatureDifference: "4 K",
  angle: "38°",
  length: "1350 m",
  volume: "200 L",
  flow: "20 L/min",
  irradiance: "800 W/m²",
  fraction: "95 %",
};

export function exampleOf(dimension: Dimension): string {
  return EXAMPLES[dimension];
}

/** What a bare number may have meant: `2000` of power is "2000 W or 2 kW". */
function proposal(number: WrittenNumber, dimension: Dimension): string {
  const value = Number(`${number.digits}e${String(number.exponent)}`);
  const text = String(value);
  if (dimension === "fraction") {
    const isShare = Math.abs(value) <= 1;
    const asPercent = Number(`${number.digits}e${String(number.exponent + 2)}`);
    return isShare && value !== 0 ? `${String(asPercent)} %` : `${text} %`;
  }
  if (dimension === "duration") return `${text} s or ${text} min?`;
  const symbols = unitSymbols(dimension);
  const base = dimension === "voltage" ? "V" : dimension === "current" ? "A" : (symbols[0] ?? "");
  const kilo = symbols.find((symbol) => symbol === `k${base}`);
  if (kilo !== undefined && Math.abs(value) >= 1000) {
    const inKilo = Number(`${number.digits}e${String(number.exponent - 3)}`);
    return `${text} ${base} or ${String(inKilo)} ${kilo}?`;
  }
  const mayBeKilo = kilo !== undefined && Math.abs(value) < 100;
  return mayBeKilo ? `${text} ${base} or ${text} ${kilo}?` : written(text, base);
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
  return written(shown.digits, meant);
}
