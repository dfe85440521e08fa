/**
 * In which units and by which clock this browser's reader wants to read. What they have chosen is
 * kept in the browser; what they have not follows their language's region.
 */
import { useState } from "preact/hooks";

export const CHOICES = {
  temperature: ["C", "F"],
  volume: ["L", "gal"],
  clock: ["24", "12"],
} as const;

export interface Units {
  readonly temperature: "C" | "F";
  readonly volume: "L" | "gal";
  /** Hours of the clock. */
  readonly clock: "24" | "12";
}

/**
 * Regions that measure the weather in Fahrenheit.
 *
 * @source Unicode CLDR, unit preferences of temperature; from memory
 */
const FAHRENHEIT = new Set(["US", "BS", "BZ", "KY", "PR", "PW"]);
/** @source Unicode CLDR, measurement systems: US; from memory */
const GALLONS = new Set(["US", "PR"]);

export function unitsOfLocale(locale: string): Units {
  const region = regionOf(locale);
  const { hour12 } = new Intl.DateTimeFormat(locale, { hour: "numeric" }).resolvedOptions();
  return {
    temperature: FAHRENHEIT.has(region) ? "F" : "C",
    volume: GALLONS.has(region) ? "gal" : "L",
    clock: hour12 === true ? "12" : "24",
  };
}

/** en alone stands for what most who write it read; empty: no language at all. */
function regionOf(locale: string): string {
  try {
    return new Intl.Locale(locale).maximize().region ?? "";
  } catch {
    return "";
  }
}

/** What was kept, where it is one of the choices; the rest as the locale has it. */
export function unitsFrom(kept: string | null, locale: string): Units {
  const units = unitsOfLocale(locale);
  const given = parsed(kept);
  return {
    temperature:
      CHOICES.temperature.find((one) => one === given["temperature"]) ?? units.temperature,
    volume: CHOICES.volume.find((one) => one === given["volume"]) ?? units.volume,
    clock: CHOICES.clock.find((one) => one === given["clock"]) ?? units.clock,
  };
}

function parsed(kept: string | null): Readonly<Record<string, unknown>> {
  try {
    const value: unknown = JSON.parse(kept ?? "{}");
    return typeof value === "object" && value !== null ? { ...value } : {};
  } catch {
    return {};
  }
}

const PLACE = "bywash-units";

export function useUnits(): readonly [Units, (units: Units) => void] {
  const [units, setUnits] = useState(() => unitsFrom(recalled(), navigator.language));
  const choose = (chosen: Units): void => {
    setUnits(chosen);
    try {
      localStorage.setItem(PLACE, JSON.stringify(chosen));
    } catch {
      // A browser that keeps nothing forgets the choice with the page.
    }
  };
  return [units, choose];
}

function recalled(): string | null {
  try {
    return localStorage.getItem(PLACE);
  } catch {
    return null;
  }
}
