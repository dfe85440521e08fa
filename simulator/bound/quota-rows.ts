import type { LoadSettings } from "../../service/control/settings.ts";
import type { BoundStep } from "./bound-step.ts";
import type { Entry, ProgrammeBuilder } from "./programme.ts";

const MS_PER_H = 3_600_000;

/** A local day: its running time at full power, or its energy; a step more may be run over. */
export function addQuotas(
  programme: ProgrammeBuilder,
  input: {
    readonly loads: readonly LoadSettings[];
    readonly steps: readonly BoundStep[];
    /** By step and load. */
    readonly powers: readonly (readonly (number | null)[])[];
    readonly stepS: number;
  },
): void {
  for (const [i, load] of input.loads.entries()) {
    const ratedW = load.modulating?.maxW ?? load.stagesW.at(-1) ?? 0;
    const overWh = (ratedW * input.stepS) / 3600;
    const runWh = load.quotaRunMs === null ? Infinity : (load.quotaRunMs / MS_PER_H) * ratedW;
    const quotaWh = Math.min(runWh, load.quotaEnergyWh ?? Infinity);
    if (quotaWh === Infinity) continue;
    for (const entries of byDay(input.steps, input.powers, i)) {
      programme.atMost(quotaWh + overWh, entries);
    }
  }
}

function byDay(
  steps: readonly BoundStep[],
  powers: readonly (readonly (number | null)[])[],
  load: number,
): Iterable<readonly Entry[]> {
  const days = new Map<number, Entry[]>();
  for (const [t, { localDay, hours }] of steps.entries()) {
    const column = powers[t]?.[load] ?? null;
    if (column === null) continue;
    const entries = days.get(localDay) ?? [];
    days.set(localDay, entries);
    entries.push([column, hours]);
  }
  return days.values();
}
