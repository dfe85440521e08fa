/** Rules that only loads of one kind have: modulating loads and sockets. */
import { errorAt, warningAt } from "./findings.ts";
import type { Finding, SettingsPath } from "./findings.ts";
import { formatQuantity } from "./quantities.ts";
import type { PartialFile } from "./partial-file.ts";
import type { LoadSection } from "./schema.ts";
import { setPointPowerW } from "./set-point.ts";
import { setPointOf, setPointUnit } from "./to-actuators.ts";

export function kindChecks(file: PartialFile, load: LoadSection, path: SettingsPath): Finding[] {
  if (load.kind === "modulating") return modulatingFindings(load, path);
  return load.kind === "sockets" ? socketsFindings(file, load, path) : [];
}

type ModulatingSection = Extract<LoadSection, { kind: "modulating" }>;
type SocketsSection = Extract<LoadSection, { kind: "sockets" }>;

const watts = (powerW: number): string => formatQuantity(powerW, "power");

function modulatingFindings(load: ModulatingSection, path: SettingsPath): Finding[] {
  const { least, most, step } = load.power;
  const at = (key: string): SettingsPath => [...path, "power", key];
  if (most <= least) {
    const expected = `above least, ${watts(least)}`;
    return [errorAt(at("most"), "least-over-most", { expected, suggestion: "kind: switched" })];
  }
  const findings = setPointFindings(load, [...path, "command"]);
  if (step > most - least) {
    const expected = `no more than from least to most, ${watts(most - least)}`;
    findings.push(errorAt(at("step"), "step-too-wide", { expected }));
  }
  const { unitW, decimals } = setPointOf(load);
  const finestW = Number(`${String(unitW)}e-${String(decimals)}`);
  if (step < finestW) {
    findings.push(
      errorAt(at("step"), "step-too-fine", {
        expected: `at least what the payload can say, ${watts(finestW)}`,
        suggestion: decimals < 3 ? "more command.decimals, or a wider step" : "a wider step",
      }),
    );
  }
  return findings;
}

function setPointFindings(load: ModulatingSection, path: SettingsPath): Finding[] {
  const { voltage, off } = load.command;
  const isInAmps = setPointUnit(load) === "amps";
  const findings: Finding[] = [];
  if (isInAmps && voltage === undefined) {
    findings.push(
      errorAt([...path, "voltage"], "missing-key", {
        found: "nothing",
        expected: "the voltage by which {{amps}} become a power",
        suggestion: "voltage: 230 V",
      }),
    );
  }
  if (!isInAmps && voltage !== undefined) {
    const expected = "voltage only with {{amps}} in the payload";
    findings.push(
      errorAt([...path, "voltage"], "key-does-not-fit", { expected, isAboutKey: true }),
    );
  }
  const offW = off === undefined ? undefined : setPointPowerW(setPointOf(load), off);
  if (offW !== undefined && offW > 0) {
    const expected = `a payload that switches off; this one asks for ${watts(offW)}`;
    findings.push(errorAt([...path, "off"], "texts-alike", { expected }));
  }
  return findings;
}

function socketsFindings(file: PartialFile, load: SocketsSection, path: SettingsPath): Finding[] {
  const at = (...keys: string[]): SettingsPath => [...path, ...keys];
  const findings: Finding[] = [];
  if (load.maximum < load.expected) {
    const expected = `at least what is expected, ${watts(load.expected)}`;
    findings.push(errorAt(at("maximum"), "maximum-under-expected", { expected }));
  }
  if (load.finishGrace > 0 && load.meter === undefined) {
    const expected = "a meter that shows whether something is in use: give the load a meter";
    findings.push(errorAt(at("finishGrace"), "grace-not-measured", { expected }));
  }
  if (load.meter === undefined) {
    findings.push(
      warningAt(at("maximum"), "limit-not-watched", {
        expected: "has no effect while they are live: the sockets have no meter",
      }),
    );
  }
  const tick = file.site?.tick;
  if (load.warnBefore !== undefined && tick !== undefined && load.warnBefore.for < tick) {
    const expected = `at least one tick, ${formatQuantity(tick, "duration")}`;
    findings.push(errorAt(at("warnBefore", "for"), "warning-short", { expected }));
  }
  if (load.request !== undefined && load.request.lasts < load.minRun) {
    const expected = `at least minRun, ${formatQuantity(load.minRun, "duration")}`;
    findings.push(errorAt(at("request", "lasts"), "request-under-run", { expected }));
  }
  return findings;
}
