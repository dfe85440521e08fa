/** One load of the file for the core, with everything that it leaves out filled in. */
import type { LoadSettings } from "../service/control/settings.ts";
import { USUAL_START_MS } from "./defaults.ts";
import type { LoadSection } from "./schema.ts";

export interface PlacedLoad {
  readonly load: LoadSection;
  readonly index: number;
  readonly panelIds: readonly string[];
  readonly legIds: readonly string[];
}

export function toLoad({ load, index, panelIds, legIds }: PlacedLoad): LoadSettings {
  const amount = load.quota?.atMost;
  const startPower = startPowerOf(load);
  return {
    id: load.id,
    label: load.label ?? load.id,
    panelIndex: load.panel === undefined ? null : panelIds.indexOf(load.panel),
    priority: load.priority ?? index + 1,
    stagesW: stagesOf(load),
    modulating: null,
    powerFactor: load.powerFactor,
    startPowerVA: startPower?.powerVA ?? null,
    startPowerMs: startPower?.forMs ?? 0,
    legIndex: load.leg === undefined ? null : legIds.indexOf(load.leg),
    isTolerant: load.tolerant ?? isUsuallyTolerant(load),
    startAboveFraction: load.start.aboveRuleCurve,
    startForMs: load.start.for,
    stopBelowFraction: load.stop.belowRuleCurve,
    stopForMs: load.stop.for,
    minRunMs: load.minRun,
    minRestMs: load.minRest,
    startsPerHourMax: load.startsPerHour ?? null,
    startsPerDayMax: load.startsPerDay ?? null,
    windows: load.windows.map(({ from, to }) => ({ fromMinute: from, toMinute: to })),
    quotaRunMs: amount?.kind === "run" ? amount.runMs : null,
    quotaEnergyWh: amount?.kind === "energy" ? amount.energyWh : null,
    tank: tankOf(load),
    pump: null,
    sockets: null,
    settleMs: load.settle,
    hasReport: load.report !== undefined,
    hasMeter: load.meter !== undefined,
    hasByHandInput: load.byHand !== undefined,
    latchAfter: load.latchAfter,
    mayLoadGenerator: load.mayLoadGenerator,
  };
}

export function stagesOf(load: LoadSection): readonly number[] {
  return load.kind === "staged" ? load.stages : [load.power];
}

interface StartPower {
  readonly powerVA: number;
  readonly forMs: number;
}

export function startPowerOf({ startPower }: LoadSection): StartPower | null {
  if (startPower === undefined) return null;
  if (typeof startPower !== "number") return { powerVA: startPower.power, forMs: startPower.for };
  return { powerVA: startPower, forMs: USUAL_START_MS };
}

/** A heating element doesn't mind a short run; a motor does. */
function isUsuallyTolerant(load: LoadSection): boolean {
  if (load.kind === "staged") return true;
  return load.tank !== undefined && load.startPower === undefined;
}

function tankOf({ tank }: LoadSection): LoadSettings["tank"] {
  if (tank === undefined) return null;
  const { surplus, hysteresis, limit, volume } = tank;
  return { surplusC: surplus, hysteresisK: hysteresis, limitC: limit, volumeL: volume ?? null };
}
