/**
 * The dictionary of signals: every quantity that a site may publish, with its unit inside the
 * service, the range that is plausible, and how old it may become. The settings' schema, the
 * telemetry table and the docs derive from it.
 */

export type SignalType = "number" | "boolean" | "chargeStage";

export interface SignalEntry {
  readonly type: SignalType;
  /** Dimension of the unit in which a publisher may send it; null: no unit. */
  readonly dimension:
    "fraction" | "voltage" | "current" | "power" | "temperature" | "frequency" | "count" | null;
  /** Plausible range in SI units, before the settings narrow it. */
  readonly min: number;
  readonly max: number;
  /** Default age limit; null: does not age (an actuator may report on change only). [ms] */
  readonly staleMs: number | null;
  readonly meaning: string;
}

/** `{id}` stands for the id of an array, steady source, load or panel. */
export const SIGNALS = {
  "battery.soc": entry("number", "fraction", 0, 1, 60_000, "State of charge"),
  "battery.voltage": entry("number", "voltage", 0, 1000, 60_000, "Battery voltage"),
  "battery.current": entry("number", "current", -2000, 2000, 60_000, "Battery current, + charging"),
  "battery.temperature": entry("number", "temperature", -50, 90, 600_000, "Battery temperature"),
  "battery.chargeStage": entry(
    "chargeStage",
    null,
    0,
    0,
    120_000,
    "Stage of the charge controller",
  ),
  "battery.chargeBlocked": entry("boolean", null, 0, 1, 120_000, "Battery refuses charge"),
  "battery.dischargeBlocked": entry("boolean", null, 0, 1, 120_000, "Battery refuses discharge"),
  "array.{id}.power": entry("number", "power", -100, 200_000, 60_000, "Array power at the battery"),
  "hydro.{id}.power": entry(
    "number",
    "power",
    -100,
    200_000,
    60_000,
    "Turbine power at the battery",
  ),
  "hydro.{id}.dumpPower": entry(
    "number",
    "power",
    0,
    200_000,
    60_000,
    "Burnt by the turbine's dump",
  ),
  "wind.{id}.power": entry("number", "power", -100, 200_000, 60_000, "Wind power at the battery"),
  "wind.{id}.dumpPower": entry("number", "power", 0, 200_000, 60_000, "Burnt by the wind dump"),
  "inverter.power": entry("number", "power", -1000, 200_000, 60_000, "AC power of the inverter"),
  "inverter.temperature": entry("number", "temperature", -50, 150, 120_000, "Inverter temperature"),
  "inverter.acVoltage": entry("number", "voltage", 0, 500, 60_000, "AC voltage"),
  "inverter.frequency": entry("number", "frequency", 0, 100, 60_000, "AC frequency"),
  "inverter.fault": entry("boolean", null, 0, 1, 120_000, "Inverter reports a fault"),
  "generator.running": entry("boolean", null, 0, 1, 120_000, "Generator runs"),
  "load.{id}.report": entry("number", "count", 0, 20, null, "Stage that the actuator reports"),
  "load.{id}.power": entry("number", "power", -100, 100_000, 60_000, "The load's own meter"),
  "load.{id}.byHand": entry("boolean", null, 0, 1, null, "Actuator switched at the device"),
  "load.{id}.tankTemperature": entry(
    "number",
    "temperature",
    -20,
    130,
    600_000,
    "Tank temperature",
  ),
  "panel.{id}.report": entry("boolean", null, 0, 1, null, "Contactor position"),
  "panel.{id}.power": entry("number", "power", -100, 200_000, 60_000, "What the panel draws"),
} as const satisfies Record<string, SignalEntry>;

export type SignalKey = keyof typeof SIGNALS;

function entry(
  type: SignalType,
  dimension: SignalEntry["dimension"],
  min: number,
  max: number,
  staleMs: number | null,
  meaning: string,
): SignalEntry {
  return { type, dimension, min, max, staleMs, meaning };
}
