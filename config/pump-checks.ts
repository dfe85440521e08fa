/** Rules about the protections of a pump: each needs what it goes by. */
import { errorAt } from "./findings.ts";
import type { Finding, SettingsPath } from "./findings.ts";
import { formatQuantity } from "./quantities.ts";
import type { LoadSection, PumpSection } from "./schema.ts";
import { stagesOf } from "./to-load.ts";

export function pumpChecks(load: LoadSection, path: SettingsPath): Finding[] {
  if (load.kind === "sockets" || load.pump === undefined) return [];
  const { pump } = load;
  const at: SettingsPath = [...path, "pump"];
  return [
    ...keyFindings(load, pump, at),
    ...dryRunFindings(load, pump, [...at, "dryRun"]),
    ...levelFindings(pump, [...at, "level", "resume"]),
  ];
}

function keyFindings(
  load: Exclude<LoadSection, { kind: "sockets" }>,
  pump: PumpSection,
  path: SettingsPath,
): Finding[] {
  const findings: Finding[] = [];
  if (load.tank !== undefined) {
    const expected = "either tank or pump: a load that heats water lifts none";
    findings.push(errorAt(path, "key-does-not-fit", { expected, isAboutKey: true }));
  }
  const { dryRun, flow, sourceLow, level, pipe } = pump;
  if ([dryRun, sourceLow, level, pipe].every((part) => part === undefined)) {
    const expected = "at least one of dryRun, sourceLow, level, pipe";
    findings.push(errorAt(path, "pump-empty", { expected, suggestion: "take the key out" }));
  } else if (flow !== undefined && dryRun?.below.kind !== "flow") {
    findings.push(
      errorAt([...path, "flow"], "key-does-not-fit", {
        expected: "flow only with dryRun.below in L/min: nothing else goes by it",
        isAboutKey: true,
      }),
    );
  }
  return findings;
}

function dryRunFindings(load: LoadSection, pump: PumpSection, path: SettingsPath): Finding[] {
  const { dryRun, flow } = pump;
  if (dryRun === undefined) return [];
  const findings: Finding[] = [];
  const at = [...path, "below"];
  const leastW = Math.min(...stagesOf(load));
  if (dryRun.below.kind === "flow" && flow === undefined) {
    const expected = "a flow that arrives: give pump.flow";
    findings.push(errorAt(at, "dry-run-not-measured", { expected }));
  }
  if (dryRun.below.kind === "power" && load.meter === undefined) {
    const expected = "a power that arrives: give the load a meter";
    findings.push(errorAt(at, "dry-run-not-measured", { expected }));
  }
  if (dryRun.below.kind === "power" && dryRun.below.powerW >= leastW) {
    const expected = `under its rated power, ${formatQuantity(leastW, "power")}`;
    findings.push(errorAt(at, "dry-run-over-rated", { expected }));
  }
  if (dryRun.for >= load.minRun) {
    const expected = `shorter than minRun, ${formatQuantity(load.minRun, "duration")}`;
    findings.push(errorAt([...path, "for"], "dry-run-late", { expected }));
  }
  return findings;
}

function levelFindings({ level }: PumpSection, path: SettingsPath): Finding[] {
  if (level === undefined || level.resume < level.full) return [];
  const expected = `under full, ${formatQuantity(level.full, "fraction")}`;
  return [errorAt(path, "level-crossed", { expected })];
}
