/** Numbers and times as the reader writes them. The service itself speaks SI units. */

import type { Units } from "./units/choice.ts";

export interface Format {
  readonly power: (powerW: number) => string;
  readonly energy: (energyWh: number) => string;
  readonly share: (fraction: number) => string;
  readonly voltage: (voltageV: number) => string;
  /** A length of time, to two units at most. */
  readonly span: (seconds: number) => string;
  /** Local time at the site. */
  readonly time: (at: string) => string;
  readonly day: (at: string) => string;
  /** Of a local date such as 2026-03-02. */
  readonly date: (date: string) => string;
  readonly number: (value: number) => string;
  /** A number in one of the service's units, in the reader's own. */
  readonly quantity: (value: number, unit: string) => string;
  /** A sentence of the service, with the quantities in it in the reader's units. */
  readonly words: (sentence: string) => string;
}

export interface FormatChoice {
  /** BCP 47; undefined: the browser's. */
  readonly locale: string | undefined;
  readonly timeZone: string;
  readonly units: Units;
}

const LITRES_PER_US_GALLON = 3.785411784;
/** Quantities in the service's sentences: a number, one space, a unit. */
const IN_WORDS = /(-?\d+(?:\.\d+)?) (°C|L\/min)/gu;
/** The space in any quantity, in whichever unit. */
const BEFORE_UNIT = new RegExp(
  "(?<=\\d) (?=(?:%|°[CF]|(?:L|gal)/min|gal|m?V|k?VA|k?Wh?|Ah|m?A|Hz|K|L|h|min|s|d)" +
    "(?![\\p{L}\\d/]))",
  "gu",
);
const NO_BREAK = "\u00A0";

/** Text of the service or of the settings, with each number and its unit on one line. */
export function unbroken(text: string): string {
  return text.replace(BEFORE_UNIT, NO_BREAK);
}

function joined(number: string, unit: string): string {
  return `${number}${NO_BREAK}${unit}`;
}

interface Converted {
  readonly value: number;
  readonly unit: string;
}

/** @source NIST Handbook 44, Appendix C: 1 US gallon = 3.785 411 784 L */
function converted(value: number, unit: string, { temperature, volume }: Units): Converted {
  if (unit === "°C" && temperature === "F") return { value: value * 1.8 + 32, unit: "°F" };
  if (volume === "L") return { value, unit };
  if (unit === "L") return { value: value / LITRES_PER_US_GALLON, unit: "gal" };
  if (unit === "L/min") return { value: value / LITRES_PER_US_GALLON, unit: "gal/min" };
  return { value, unit };
}

/** From here on kilowatts are shorter. [W] */
const KILO = 1000;

export function createFormat({ locale, timeZone, units }: FormatChoice): Format {
  const digits = (most: number) => new Intl.NumberFormat(locale, { maximumFractionDigits: most });
  const [whole, tenths, hundredths] = [digits(0), digits(1), digits(2)];
  const unit = (value: number, name: string): string =>
    Math.abs(value) < KILO
      ? joined(whole.format(value), name)
      : joined(hundredths.format(Math.round(value / 10) / 100), `k${name}`);
  const clock = new Intl.DateTimeFormat(locale, {
    timeZone,
    hour: "2-digit",
    minute: "2-digit",
    // Not `hour12: false`, by which some browsers write 24:00 for midnight.
    hourCycle: units.clock === "12" ? "h12" : "h23",
  });
  const date = new Intl.DateTimeFormat(locale, {
    timeZone,
    weekday: "short",
    day: "numeric",
    month: "short",
  });
  const dateAlone = new Intl.DateTimeFormat(locale, {
    timeZone: "UTC",
    weekday: "short",
    day: "numeric",
    month: "short",
  });
  return {
    date: (text) => dateAlone.format(new Date(`${text}T12:00:00Z`)),
    power: (powerW) => unit(powerW, "W"),
    energy: (energyWh) => unit(energyWh, "Wh"),
    share: (fraction) => joined(tenths.format(fraction * 100), "%"),
    voltage: (voltageV) => joined(hundredths.format(voltageV), "V"),
    span: spanText,
    time: (at) => clock.format(new Date(at)).replaceAll(" ", NO_BREAK),
    day: (at) => date.format(new Date(at)),
    number: (value) => hundredths.format(value),
    quantity(value, unit) {
      const said = converted(value, unit, units);
      return joined(hundredths.format(said.value), said.unit);
    },
    words: (sentence) =>
      unbroken(
        sentence.replace(IN_WORDS, (_, number: string, unit: string) => {
          const said = converted(Number(number), unit, units);
          return `${said.value.toFixed(1)} ${said.unit}`;
        }),
      ),
  };
}

function spanText(seconds: number): string {
  const wholeS = Math.max(0, Math.round(seconds));
  if (wholeS < 60) return joined(String(wholeS), "s");
  const minutes = Math.round(wholeS / 60);
  if (minutes < 60) return joined(String(minutes), "min");
  const [hours, rest] = [Math.floor(minutes / 60), minutes % 60];
  if (hours < 24) return joined(String(hours), "h") + restText(rest, "min");
  const [days, left] = [Math.floor(hours / 24), hours % 24];
  return joined(String(days), "d") + restText(left, "h");
}

function restText(count: number, unit: string): string {
  return count === 0 ? "" : NO_BREAK + joined(String(count), unit);
}
