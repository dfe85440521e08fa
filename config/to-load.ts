/** One load of the file for the core, with everything that it leaves out filled in. */
import type { LoadSettings } from "../service/control/settings.ts";
import { USUAL_START_MS } from "./defaults.ts";
import type { LoadSection, PumpSection } from "./schema.ts";

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
    modulating: modulatingOf(load),
    powerFactor: load.powerFactor,
    startPowerVA: startPower?.powerVA ?? null,
    startPowerMs: startPower?.forMs ?? 0,
    legIndex: load.leg === undefined ? null : legIds.indexOf(load.leg),
    isTolerant: isTolerant(load),
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
    deadline: deadlineOf(load),
    tank: tankOf(load),
    pump: pumpOf(load),
    sockets: socketsOf(load),
    settleMs: load.settle,
    hasReport: load.report !== undefined,
    hasMeter: load.meter !== undefined,
    hasByHandInput: load.byHand !== undefined,
    latchAfter: load.latchAfter,
    mayLoadGenerator: load.mayLoadGenerator,
  };
}

/** Of a modulating load the least power, of sockets what is expected. */
export function stagesOf(load: LoadSection): readonly number[] {
  switch (load.kind) {
    case "switched":
      return [load.power];
    case "staged":
      // As it was read, engines keep it as a list of anything, and in the core all others with it.
      return load.stages.map((powerW) => powerW);
    case "modulating":
      return [load.power.least];
    case "sockets":
      return [load.expected];
  }
}

interface StartPower {
  readonly powerVA: number;
  readonly forMs: number;
}

export function startPowerOf(load: LoadSection): StartPower | null {
  if (load.kind === "sockets" || load.startPower === undefined) return null;
  const { startPower } = load;
  if (typeof startPower !== "number") return { powerVA: startPower.power, forMs: startPower.for };
  return { powerVA: startPower, forMs: USUAL_START_MS };
}

/** A heating element doesn't mind a short run; a motor does. */
function isTolerant(load: LoadSection): boolean {
  if (load.kind === "sockets") return false;
  if (load.tolerant !== undefined) return load.tolerant;
  if (load.startPower !== undefined || load.pump !== undefined) return false;
  return load.kind !== "switched" || load.tank !== undefined;
}

function modulatingOf(load: LoadSection): LoadSettings["modulating"] {
  if (load.kind !== "modulating") return null;
  const { least, most, step, fullRise } = load.power;
  return { minW: least, maxW: most, stepW: step, riseWPerS: (most - least) / (fullRise / 1000) };
}

function deadlineOf({ deadline }: LoadSection): LoadSettings["deadline"] {
  if (deadline === undefined) return null;
  const { by, reach, mayDrawTo } = deadline;
  return {
    byMinute: by,
    reachC: reach.kind === "temperature" ? reach.temperatureC : null,
    reachRunMs: reach.kind === "run" ? reach.runMs : null,
    reachWh: reach.kind === "energy" ? reach.energyWh : null,
    mayDrawToFraction: mayDrawTo ?? null,
  };
}

function tankOf(load: LoadSection): LoadSettings["tank"] {
  if (load.kind === "sockets" || load.tank === undefined) return null;
  const { surplus, hysteresis, limit, volume } = load.tank;
  return { surplusC: surplus, hysteresisK: hysteresis, limitC: limit, volumeL: volume ?? null };
}

function pumpOf(load: LoadSection): LoadSettings["pump"] {
  if (load.kind === "sockets" || load.pump === undefined) return null;
  const { dryRun, sourceLow, level, pipe } = load.pump;
  return {
    dryRun: dryRun === undefined ? null : { ...leastWater(dryRun.below), forMs: dryRun.for },
    hasSourceContact: sourceLow !== undefined,
    level: level === undefined ? null : { fullFraction: level.full, resumeFraction: level.resume },
    pipeMinC: pipe?.min ?? null,
  };
}

function leastWater(below: NonNullable<PumpSection["dryRun"]>["below"]): {
  readonly belowW: number | null;
  readonly belowLPerMin: number | null;
} {
  return below.kind === "power"
    ? { belowW: below.powerW, belowLPerMin: null }
    : { belowW: null, belowLPerMin: below.flowLPerMin };
}

function socketsOf(load: LoadSection): LoadSettings["sockets"] {
  if (load.kind !== "sockets") return null;
  return {
    maximumW: load.maximum,
    warnMs: load.warnBefore?.for ?? 0,
    finishGraceMs: load.finishGrace,
    hasRequest: load.request !== undefined,
    requestMs: load.request?.lasts ?? 0,
  };
}
