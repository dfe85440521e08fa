/** Quantities in a description of a site, without the error of the last digit. */
import { formatQuantity } from "../../config/quantities.ts";

export function watts(powerW: number): string {
  return formatQuantity(rounded(powerW), "power");
}

export function voltAmperes(powerVA: number): string {
  return formatQuantity(rounded(powerVA), "apparentPower");
}

export function volts(voltageV: number): string {
  return formatQuantity(rounded(voltageV), "voltage");
}

export function duration(durationMs: number): string {
  return formatQuantity(durationMs, "duration");
}

export function percent(fraction: number): string {
  return `${String(rounded(fraction * 100))} %`;
}

/** Sums such as 0.94 + 0.02 carry an error in the last digit that no reader wants. */
function rounded(value: number): number {
  return Math.round(value * 1e6) / 1e6;
}
