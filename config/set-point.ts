/** What a payload with a set-point asks for. */
import type { SetPointSettings } from "./site-settings.ts";

/** @returns The power that a payload asks for; `undefined`: it is no set-point. [W] */
export function setPointPowerW(setPoint: SetPointSettings, payload: string): number | undefined {
  const [before, after] = setPoint.payload;
  const isFramed = payload.startsWith(before) && payload.endsWith(after);
  const number = payload.slice(before.length, payload.length - after.length);
  if (!isFramed || !/^\d+(?:\.\d+)?$/u.test(number)) return undefined;
  return Number(number) * setPoint.unitW;
}
