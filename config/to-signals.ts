/**
 * Every signal that the file maps, in one list: those under `telemetry`, and those that stand at
 * the load or panel they belong to.
 */
import { errorAt } from "./findings.ts";
import type { Finding } from "./findings.ts";
import { loadSignals, panelSignals } from "./load-signals.ts";
import { measured, merge } from "./mapped-signals.ts";
import type { MappedSignals } from "./mapped-signals.ts";
import type { PartialFile } from "./partial-file.ts";
import type { SignalSection } from "./schema.ts";
import { mayBeMeant, possibleNames, resolveName } from "./signal-names.ts";
import { SIGNALS } from "./signals.ts";
import type { SignalKey } from "./signals.ts";
import { nearestWord } from "./suggestions.ts";
import type { MeasuredSignal } from "./to-sensors.ts";

export function mapSignals(file: PartialFile): MappedSignals {
  const parts: MappedSignals[] = [];
  for (const [name, mapping] of file.telemetry) parts.push(telemetrySignal(file, name, mapping));
  for (const [index, panel] of file.panels.entries()) {
    if (panel !== undefined) parts.push(panelSignals(panel, ["panels", index]));
  }
  for (const [index, load] of file.loads.entries()) {
    if (load !== undefined) parts.push(loadSignals(load, ["loads", index]));
  }
  return merge(parts);
}

function telemetrySignal(
  file: PartialFile,
  name: string,
  mapping: SignalSection | undefined,
): MappedSignals {
  const path = ["telemetry", name];
  const found = resolveName(file, name);
  if (found === undefined) {
    return { signals: [], findings: mayBeMeant(file, name) ? [] : [unknownSignal(file, name)] };
  }
  if (mapping === undefined) return { signals: [], findings: [] };
  const { key, ownerId } = found;
  return measured({ key, ownerId, path, usual: usualRange(file, key) }, mapping);
}

/**
 * A battery cannot be at half or one and a half times its nominal voltage; a reading there is a
 * loose wire or another battery. Common practice, no source.
 */
function usualRange(file: PartialFile, key: SignalKey): MeasuredSignal["usual"] {
  const nominalV = file.battery?.nominalVoltage;
  if (nominalV === undefined || key !== "battery.voltage") return SIGNALS[key];
  return { min: 0.5 * nominalV, max: 1.5 * nominalV };
}

function unknownSignal(file: PartialFile, name: string): Finding {
  const path = ["telemetry", name];
  const [kind = ""] = name.split(".");
  if (kind === "load" || kind === "panel") {
    return errorAt(path, "unknown-signal", {
      expected: "signals of battery, sources and inverter",
      suggestion: `give it at the ${kind} itself, as report or meter`,
      isAboutKey: true,
    });
  }
  const names = possibleNames(file).map((possible) => possible.name);
  const near = nearestWord(name, names);
  return errorAt(path, "unknown-signal", {
    expected: `one of ${names.join(", ")}`,
    ...(near === undefined ? {} : { suggestion: `did you mean ${near}?` }),
    isAboutKey: true,
  });
}
