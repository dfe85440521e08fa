import type { LoadSettings } from "../../service/control/settings.ts";
import type { Entry, ProgrammeBuilder } from "./programme.ts";

const MS_PER_H = 3_600_000;

export interface QuotaRows {
  /** @param powers - Column of each load's power in this step; null where it may not run. */
  add(hours: number, powers: readonly (number | null)[]): void;
  /** The local day is over: what its quotas allow. */
  closeDay(): void;
}

interface Day {
  readonly quotaWh: number;
  readonly entries: Entry[];
}

/** A local day: its running time at full power, or its energy; a step more may be run over. */
export function quotaRows(
  programme: ProgrammeBuilder,
  { loads, stepS }: { readonly loads: readonly LoadSettings[]; readonly stepS: number },
): QuotaRows {
  const days = loads.map((load): Day => ({ quotaWh: quotaWh(load, stepS), entries: [] }));
  return {
    add(hours, powers) {
      for (const [i, day] of days.entries()) {
        const column = powers[i] ?? null;
        if (column !== null && day.quotaWh !== Infinity) day.entries.push([column, hours]);
      }
    },
    closeDay() {
      for (const { quotaWh: upperWh, entries } of days) {
        if (entries.length > 0) programme.atMost(upperWh, entries.splice(0));
      }
    },
  };
}

/** Infinity: no quota. [Wh] */
function quotaWh(load: LoadSettings, stepS: number): number {
  const ratedW = load.modulating?.maxW ?? load.stagesW.at(-1) ?? 0;
  const overWh = (ratedW * stepS) / 3600;
  const runWh = load.quotaRunMs === null ? Infinity : (load.quotaRunMs / MS_PER_H) * ratedW;
  return Math.min(runWh, load.quotaEnergyWh ?? Infinity) + overWh;
}
