/** Where the power comes from and goes to at this moment, as one line of text. */
import type { SiteVerdictView } from "../../state-view.ts";
import type { Format } from "../format.ts";

/** Smaller flows are a meter's noise. [W] */
const NOISE_W = 25;

export function balanceText(verdict: SiteVerdictView, format: Format): string {
  const { sourcesPowerW, basePowerW, batteryPowerW } = verdict;
  const parts = [`The sources give ${format.power(sourcesPowerW)}`];
  if (basePowerW !== null)
    parts.push(`everyday use takes ${format.power(Math.max(0, basePowerW))}`);
  if (basePowerW !== null && batteryPowerW !== null) {
    const restW = sourcesPowerW - basePowerW - batteryPowerW;
    if (restW > NOISE_W) parts.push(`opportunity loads and losses take ${format.power(restW)}`);
  }
  parts.push(batteryText(batteryPowerW, format));
  const more = verdict.isCurtailed ? " More could be had: the arrays are held back." : "";
  return `${parts.join("; ")}.${more}`;
}

function batteryText(powerW: number | null, format: Format): string {
  if (powerW === null) return "what the battery takes is not measured";
  if (Math.abs(powerW) <= NOISE_W) return "the battery rests";
  return powerW > 0
    ? `the battery is charged with ${format.power(powerW)}`
    : `the battery gives ${format.power(-powerW)}`;
}
