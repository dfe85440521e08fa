/** Rules about what a load takes: powers that can never fit, starting power, legs. */
import { errorAt, warningAt } from "./findings.ts";
import type { Finding, SettingsPath } from "./findings.ts";
import type { PartialFile } from "./partial-file.ts";
import { formatQuantity } from "./quantities.ts";
import type { LoadSection } from "./schema.ts";
import { nearestWord } from "./suggestions.ts";
import { toInverter } from "./to-inverter.ts";
import { startPowerOf } from "./to-load.ts";
import { feederMaxW } from "./to-settings.ts";

/** Share of the inverter beyond which the everyday use beside the load may not fit any more. */
const INVERTER_SHARE_MAX = 0.8;

interface RatedPower {
  readonly path: SettingsPath;
  readonly powerW: number;
}

/** Every power that the file gives for a load, the largest last. */
function ratedPowers(load: LoadSection, path: SettingsPath): readonly RatedPower[] {
  const at = (...keys: (string | number)[]): SettingsPath => [...path, ...keys];
  switch (load.kind) {
    case "switched":
      return [{ path: at("power"), powerW: load.power }];
    case "staged":
      return load.stages.map((powerW, stage) => ({ path: at("stages", stage), powerW }));
    case "modulating":
      return [
        { path: at("power", "least"), powerW: load.power.least },
        { path: at("power", "most"), powerW: load.power.most },
      ];
    case "sockets":
      return [
        { path: at("expected"), powerW: load.expected },
        { path: at("maximum"), powerW: load.maximum },
      ];
  }
}

export function powerFindings(file: PartialFile, load: LoadSection, path: SettingsPath): Finding[] {
  const powers = ratedPowers(load, path);
  return [
    ...powers.flatMap((power) => fitFindings(file, load, power)),
    ...risingFindings(load, path),
    ...startFindings(file, load, { path, ratedW: Math.max(...powers.map((one) => one.powerW)) }),
    ...headroomFindings(file, powers),
  ];
}

function fitFindings(
  file: PartialFile,
  load: LoadSection,
  { path, powerW }: RatedPower,
): Finding[] {
  const never = (limit: string): Finding =>
    errorAt(path, "never-fits", { expected: `no more than ${limit}` });
  const findings: Finding[] = [];
  const inverter = inverterOf(file);
  if (inverter !== undefined) {
    const ratedVA = powerW / load.powerFactor;
    const leg = smallestLeg(inverter.legs, load.leg);
    const onLegVA = load.leg === undefined ? ratedVA / inverter.legs.length : ratedVA;
    if (powerW > inverter.continuousW) {
      findings.push(never(`the inverter carries, ${watts(inverter.continuousW)}`));
    } else if (ratedVA > inverter.continuousVA) {
      findings.push(
        never(`the inverter carries, ${voltAmperes(inverter.continuousVA)}${inVA(load, ratedVA)}`),
      );
    } else if (leg !== undefined && onLegVA > leg.continuousVA) {
      findings.push(
        never(`leg ${leg.id} carries, ${voltAmperes(leg.continuousVA)}${inVA(load, onLegVA)}`),
      );
    }
  }
  const feederW = feederOf(file, load);
  if (feederW !== undefined && powerW > feederW) {
    findings.push(never(`its panel's feeder carries, ${watts(round(feederW))}`));
  }
  return findings;
}

function inverterOf(file: PartialFile): ReturnType<typeof toInverter> | undefined {
  return file.inverter && toInverter(file.inverter, file.site?.elevation ?? 0);
}

/** The load's own leg; a load on all of them is held by the smallest. */
function smallestLeg<L extends { readonly id: string; readonly continuousVA: number }>(
  legs: readonly L[],
  own: string | undefined,
): L | undefined {
  const used = legs.filter(({ id }) => own === undefined || id === own);
  return used.toSorted((one, other) => one.continuousVA - other.continuousVA)[0];
}

function inVA(load: LoadSection, apparentVA: number): string {
  if (load.powerFactor === 1) return "";
  return `; at powerFactor ${String(load.powerFactor)} this is ${voltAmperes(apparentVA)}`;
}

function risingFindings(load: LoadSection, path: SettingsPath): Finding[] {
  if (load.kind !== "staged") return [];
  return load.stages.flatMap((powerW, stage) => {
    const below = load.stages[stage - 1];
    if (below === undefined || powerW > below) return [];
    const expected = `more than the stage before, ${watts(below)}`;
    return [errorAt([...path, "stages", stage], "stages-not-rising", { expected })];
  });
}

function startFindings(
  file: PartialFile,
  load: LoadSection,
  { path, ratedW }: { readonly path: SettingsPath; readonly ratedW: number },
): Finding[] {
  const startPower = startPowerOf(load);
  if (startPower === null || load.kind === "sockets") return [];
  const isShort = typeof load.startPower === "number";
  const at = isShort ? [...path, "startPower"] : [...path, "startPower", "power"];
  const surgeVA = inverterOf(file)?.surgeVA;
  if (surgeVA !== undefined && startPower.powerVA > surgeVA) {
    const expected = `no more than the inverter's surge, ${voltAmperes(surgeVA)}`;
    return [errorAt(at, "never-fits", { expected })];
  }
  const findings: Finding[] = [];
  const ratedVA = ratedW / load.powerFactor;
  if (startPower.powerVA < ratedVA) {
    const expected = `at least its rated power, ${voltAmperes(ratedVA)}`;
    findings.push(errorAt(at, "start-under-rated", { expected }));
  }
  if (load.tolerant === true) {
    findings.push(
      warningAt([...path, "tolerant"], "motor-tolerant", {
        expected: "a motor that takes a starting power wears from tries that fail",
        suggestion: "take tolerant out",
      }),
    );
  }
  return findings;
}

function headroomFindings(file: PartialFile, powers: readonly RatedPower[]): Finding[] {
  const continuousW = inverterOf(file)?.continuousW;
  const largest = powers.toSorted((one, other) => other.powerW - one.powerW)[0];
  if (continuousW === undefined || largest === undefined) return [];
  const share = largest.powerW / continuousW;
  if (share <= INVERTER_SHARE_MAX || share > 1) return [];
  return [
    warningAt(largest.path, "little-headroom", {
      expected:
        `takes more than 80 % of the inverter's ${watts(continuousW)}; ` +
        "it starts only while little else runs",
    }),
  ];
}

export function legFindings(file: PartialFile, load: LoadSection, path: SettingsPath): Finding[] {
  const { ids, isOpen } = file.names.legs;
  if (load.leg === undefined || ids.includes(load.leg) || isOpen) return [];
  const near = nearestWord(load.leg, ids);
  return [
    errorAt([...path, "leg"], "unknown-leg", {
      expected: ids.length === 0 ? "no leg: the inverter has none" : `one of ${ids.join(", ")}`,
      ...(near === undefined ? {} : { suggestion: `did you mean ${near}?` }),
    }),
  ];
}

function feederOf(file: PartialFile, load: LoadSection): number | undefined {
  const panel = file.panels.find((one) => one !== undefined && one.id === load.panel);
  return panel === undefined ? undefined : feederMaxW(panel);
}

function watts(powerW: number): string {
  return formatQuantity(powerW, "power");
}

function voltAmperes(powerVA: number): string {
  return formatQuantity(round(powerVA), "apparentPower");
}

/** Products such as 20 · 230 · 0.8 carry an error in the last digit that no reader wants. */
function round(value: number): number {
  return Math.round(value * 1e6) / 1e6;
}
