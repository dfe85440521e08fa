/** Rules between the keys of the battery, the rule curve and what stands beside them. */
import { CHEMISTRY_DEFAULTS, cellsInSeries } from "./defaults.ts";
import { errorAt, warningAt } from "./findings.ts";
import type { Finding } from "./findings.ts";
import type { PartialFile } from "./partial-file.ts";
import { formatQuantity } from "./quantities.ts";
import type { BatterySection } from "./schema.ts";
import { toBattery } from "./to-battery.ts";

export function batteryChecks(file: PartialFile): readonly Finding[] {
  const { battery } = file;
  if (battery === undefined) return [];
  return [
    ...cellFindings(battery),
    ...reserveFindings(file, battery),
    ...voltageFindings(battery),
    ...voltageModeFindings(battery),
    ...dumpFindings(file, battery),
    ...limitFindings(battery),
  ];
}

function cellFindings(battery: BatterySection): readonly Finding[] {
  const { chemistry, nominalVoltage, compensation } = battery;
  const findings: Finding[] = [];
  const cells = cellsInSeries(chemistry, nominalVoltage);
  if (!Number.isInteger(cells)) {
    const cellV = CHEMISTRY_DEFAULTS[chemistry].cellNominalV;
    const fitting = formatQuantity(Math.round(cells) * cellV, "voltage");
    findings.push(
      errorAt(["battery", "nominalVoltage"], "cells-not-whole", {
        expected: `a whole number of ${chemistry} cells of ${formatQuantity(cellV, "voltage")}`,
        suggestion: `${fitting} for ${String(Math.round(cells))} cells`,
      }),
    );
  }
  if (chemistry === "lfp" && compensation !== undefined && compensation !== 0) {
    findings.push(
      errorAt(["battery", "compensation"], "compensation-for-lfp", {
        expected: "0 V: LFP is charged to the same voltage at every temperature",
        suggestion: "take the key out",
      }),
    );
  }
  return findings;
}

function reserveFindings(file: PartialFile, battery: BatterySection): readonly Finding[] {
  const { floor, floorMargin, sunsetTarget } = battery;
  const findings: Finding[] = [];
  const shown = (fraction: number): string => formatQuantity(fraction, "fraction");
  if (sunsetTarget <= floor) {
    findings.push(
      errorAt(["battery", "sunsetTarget"], "target-under-floor", {
        expected: `above the floor, ${shown(floor)}`,
      }),
    );
  }
  if (floorMargin > floor) {
    findings.push(
      errorAt(["battery", "floorMargin"], "margin-over-floor", {
        expected: `no more than the floor, ${shown(floor)}`,
      }),
    );
  }
  return [...findings, ...ruleCurveFindings(file, battery)];
}

function ruleCurveFindings(
  { ruleCurve }: PartialFile,
  { floor, sunsetTarget }: BatterySection,
): readonly Finding[] {
  if (ruleCurve === undefined) return [];
  const { at, mode } = ruleCurve;
  const shown = (fraction: number): string => formatQuantity(fraction, "fraction");
  if (at === undefined) {
    if (mode === "outlook") return [];
    return [
      errorAt(["ruleCurve", "at"], "missing-key", {
        found: "nothing",
        expected: "the state of charge of the fixed curve",
        suggestion: `at: ${shown(Math.min(1, sunsetTarget + 0.02))}`,
      }),
    ];
  }
  if (at <= floor) {
    return [
      errorAt(["ruleCurve", "at"], "rule-curve-under-floor", {
        expected: `above the floor, ${shown(floor)}`,
      }),
    ];
  }
  if (at >= sunsetTarget) return [];
  return [
    warningAt(["ruleCurve", "at"], "rule-curve-under-target", {
      expected:
        `under battery.sunsetTarget, ${shown(sunsetTarget)}: ` +
        "loads may keep the battery from reaching it",
    }),
  ];
}

/** Each threshold must lie above the one before it; defaults count as well. */
function voltageFindings(battery: BatterySection): readonly Finding[] {
  const settings = toBattery(battery, undefined);
  const rising: readonly (readonly [keyof BatterySection, number | null])[] = [
    ["lowVoltage", settings.lowVoltageV],
    ["floatVoltage", settings.floatVoltageV],
    ["absorptionVoltage", settings.absorptionVoltageV],
    ["highVoltage", settings.highVoltageV],
  ];
  const findings: Finding[] = [];
  for (const [index, [key, voltageV]] of rising.entries()) {
    const [lowerKey, lowerV] = rising[index - 1] ?? [undefined, null];
    if (lowerKey === undefined || voltageV === null || lowerV === null) continue;
    // Some makers give one voltage for absorption and float.
    const isRight = key === "absorptionVoltage" ? voltageV >= lowerV : voltageV > lowerV;
    if (isRight) continue;
    const isGiven = battery[key] !== undefined;
    findings.push(
      errorAt(["battery", isGiven ? key : lowerKey], "voltages-not-rising", {
        expected: isGiven
          ? `above ${lowerKey}, ${formatQuantity(lowerV, "voltage")}`
          : `under ${key}, ${formatQuantity(voltageV, "voltage")}`,
      }),
    );
  }
  return findings;
}

function voltageModeFindings(battery: BatterySection): readonly Finding[] {
  const { voltageMode, chemistry } = battery;
  if (voltageMode === undefined) return [];
  const findings: Finding[] = [];
  const { lowVoltageV } = toBattery(battery, undefined);
  const { start, stop } = voltageMode;
  if (stop >= start) {
    findings.push(
      errorAt(["battery", "voltageMode", "stop"], "voltages-not-rising", {
        expected: `under start, ${formatQuantity(start, "voltage")}`,
      }),
    );
  }
  if (stop <= lowVoltageV) {
    findings.push(
      errorAt(["battery", "voltageMode", "stop"], "voltages-not-rising", {
        expected: `above battery.lowVoltage, ${formatQuantity(lowVoltageV, "voltage")}`,
      }),
    );
  }
  if (chemistry === "lfp") {
    findings.push(
      warningAt(["battery", "voltageMode"], "voltage-mode-for-lfp", {
        expected:
          "the voltage of LFP says little between empty and full; without a state of charge " +
          "loads run only while the battery is held at its set-point",
      }),
    );
  }
  return findings;
}

/** The dump must be the last to act: opportunity loads are to take the surplus before it. */
function dumpFindings(file: PartialFile, battery: BatterySection): readonly Finding[] {
  const { absorptionVoltageV, voltageMode } = toBattery(battery, undefined);
  const limits: readonly (readonly [string, number])[] = [
    ["the absorption set-point", absorptionVoltageV],
    ...(voltageMode === null ? [] : [["voltageMode.start", voltageMode.startV] as const]),
  ];
  return (["hydro", "wind"] as const).flatMap((list) =>
    file[list].flatMap((source, index) => {
      const dumpV = source?.dumpVoltage;
      if (dumpV === undefined) return [];
      return limits
        .filter(([, limitV]) => dumpV <= limitV)
        .map(([name, limitV]) =>
          errorAt([list, index, "dumpVoltage"], "dump-too-low", {
            expected: `above ${name}, ${formatQuantity(limitV, "voltage")}`,
          }),
        );
    }),
  );
}

/** A charge that never falls to the tail current never counts as full. */
function limitFindings(battery: BatterySection): readonly Finding[] {
  const { chargeLimit } = battery;
  const { tailCurrentA } = toBattery(battery, undefined);
  if (chargeLimit === undefined || chargeLimit > tailCurrentA) return [];
  return [
    errorAt(["battery", "chargeLimit"], "limit-under-tail", {
      expected: `above the tail current, ${formatQuantity(tailCurrentA, "current")}`,
    }),
  ];
}
