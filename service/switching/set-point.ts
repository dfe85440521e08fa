/** The set-point of a load whose power can be set, as the number in its payload. */
import type { SetPointSettings } from "../../config/site-settings.ts";

/** Less than any step of a payload, more than the error of a division. */
const ROUNDING = 1e-6;

/** Rounded down, so that a load never takes more than it was allotted, but not under its least. */
export function setPointPayload(setPoint: SetPointSettings, powerW: number): string {
  const [before, after] = setPoint.payload;
  const finest = setPoint.unitW * tenths(setPoint.decimals);
  const least = Math.ceil(setPoint.minW / finest - ROUNDING);
  const steps = Math.max(least, Math.floor(powerW / finest + ROUNDING));
  return before + (steps * tenths(setPoint.decimals)).toFixed(setPoint.decimals) + after;
}

function tenths(decimals: number): number {
  return Number(`1e-${String(decimals)}`);
}
