/** Rules about which signals must or should be mapped. */
import { errorAt, warningAt } from "./findings.ts";
import type { Finding } from "./findings.ts";
import type { PartialFile } from "./partial-file.ts";
import { mayBeMapped } from "./signal-names.ts";
import type { SignalKey } from "./signals.ts";
import type { MappedSignal } from "./mapped-signals.ts";

export function telemetryChecks(
  file: PartialFile,
  signals: readonly MappedSignal[],
): readonly Finding[] {
  // A signal that cannot be read is mapped all the same: its own problem is said elsewhere.
  const has = (key: SignalKey): boolean =>
    mayBeMapped(file, key) || signals.some(({ signal }) => signal.key === key);
  return [
    ...stateOfCharge(file, has),
    ...recommended(has),
    ...unwatchedLimits(file, has),
    ...unheardSensor(file, has),
  ];
}

type Has = (key: SignalKey) => boolean;

function stateOfCharge(file: PartialFile, has: Has): readonly Finding[] {
  const canCount = has("battery.current") && has("battery.voltage");
  const canUseVoltage = has("battery.voltage") && file.battery?.voltageMode !== undefined;
  if (has("battery.soc") || canCount || canUseVoltage || file.battery === undefined) return [];
  return [
    errorAt(["telemetry"], "telemetry-too-little", {
      found: "no way to know the state of charge",
      expected:
        "battery.soc; or battery.current and battery.voltage; " +
        "or battery.voltage with battery.voltageMode",
    }),
  ];
}

const RECOMMENDED: Partial<Record<SignalKey, string>> = {
  "battery.voltage": "low voltage cannot be seen",
  "battery.current": "what loads take from the battery cannot be seen",
  "inverter.power": "the inverter's headroom and the everyday use cannot be seen",
};

function recommended(has: Has): readonly Finding[] {
  const keys: readonly SignalKey[] = ["battery.voltage", "battery.current", "inverter.power"];
  return keys
    .filter((key) => !has(key))
    .map((key) =>
      warningAt(["telemetry", key], "signal-recommended", {
        expected: `not mapped: ${RECOMMENDED[key] ?? "it is wanted"}`,
      }),
    );
}

/** A plane without a signal measures nothing. */
function unheardSensor({ irradianceSensor }: PartialFile, has: Has): readonly Finding[] {
  if (irradianceSensor === undefined || has("sky.irradiance")) return [];
  return [
    errorAt(["irradianceSensor"], "sensor-not-mapped", {
      found: "a sensor without its signal",
      expected: "telemetry with sky.irradiance",
      suggestion: "sky.irradiance: { topic: shed/sun, unit: W/m² }",
    }),
  ];
}

/** A limit on what is not measured would be a promise that nobody keeps. */
function unwatchedLimits(file: PartialFile, has: Has): readonly Finding[] {
  const { inverter } = file;
  const pairs: readonly (readonly [string, SignalKey, boolean])[] = [
    ["temperatureMax", "inverter.temperature", inverter?.temperatureMax !== undefined],
    ["acVoltage", "inverter.acVoltage", inverter?.acVoltage !== undefined],
    ["frequency", "inverter.frequency", inverter?.frequency !== undefined],
    ["maxInput", "battery.voltage", inverter?.maxInput !== undefined],
  ];
  const limits = pairs
    .filter(([, signal, isGiven]) => isGiven && !has(signal))
    .map(([key, signal]) =>
      warningAt(["inverter", key], "limit-not-watched", {
        expected: `has no effect: telemetry ${signal} is not mapped`,
      }),
    );
  const generator = file.loads.flatMap((load, index) =>
    load?.mayLoadGenerator === true && !has("generator.running")
      ? [
          warningAt(["loads", index, "mayLoadGenerator"], "limit-not-watched", {
            expected: "has no effect: telemetry generator.running is not mapped",
          }),
        ]
      : [],
  );
  return [...limits, ...generator];
}
