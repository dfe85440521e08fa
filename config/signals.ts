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
    | "fraction"
    | "voltage"
    | "current"
    | "power"
    | "energy"
    | "temperature"
    | "frequency"
    | "flow"
    | "irradiance"
    | "count"
    | null;
  /** Plausible range in SI units, before the settings narrow it. */
  readonly min: number;
  readonly max: number;
  /** Default age limit; null: does not age (an actuator may report on change only). [ms] */
  readonly staleMs: number | null;
  readonly meaning: string;
}

/** `{id}` stands for the id of an array, steady source, load or panel. */
export const SIGNALS = {
  "battery.soc": entry(
    ["number", "fraction"],
    { min: 0, max: 1, staleMs: 60_000 },
    "State of charge",
  ),
  "battery.voltage": entry(
    ["number", "voltage"],
    { min: 0, max: 1000, staleMs: 60_000 },
    "Battery voltage",
  ),
  "battery.current": entry(
    ["number", "current"],
    { min: -2000, max: 2000, staleMs: 60_000 },
    "Battery current, + charging",
  ),
  "battery.temperature": entry(
    ["number", "temperature"],
    { min: -50, max: 90, staleMs: 600_000 },
    "Battery temperature",
  ),
  "battery.chargeStage": entry(
    ["chargeStage", null],
    { min: 0, max: 0, staleMs: 120_000 },
    "Stage of the charge controller",
  ),
  "battery.chargeBlocked": entry(
    ["boolean", null],
    { min: 0, max: 1, staleMs: 120_000 },
    "Battery refuses charge",
  ),
  "battery.dischargeBlocked": entry(
    ["boolean", null],
    { min: 0, max: 1, staleMs: 120_000 },
    "Battery refuses discharge",
  ),
  "battery.chargeLimit": entry(
    ["number", "current"],
    { min: 0, max: 5000, staleMs: 120_000 },
    "Charging current that the battery allows now",
  ),
  "battery.dischargeLimit": entry(
    ["number", "current"],
    { min: 0, max: 5000, staleMs: 120_000 },
    "Discharge current that the battery allows now",
  ),
  "array.{id}.chargeStage": entry(
    ["chargeStage", null],
    { min: 0, max: 0, staleMs: 120_000 },
    "Stage of the array's own controller",
  ),
  "array.{id}.power": entry(
    ["number", "power"],
    { min: -100, max: 200_000, staleMs: 60_000 },
    "Array power at the battery",
  ),
  "hydro.{id}.power": entry(
    ["number", "power"],
    { min: -100, max: 200_000, staleMs: 60_000 },
    "Turbine power at the battery",
  ),
  "hydro.{id}.dumpPower": entry(
    ["number", "power"],
    { min: 0, max: 200_000, staleMs: 60_000 },
    "Burnt by the turbine's dump",
  ),
  "wind.{id}.power": entry(
    ["number", "power"],
    { min: -100, max: 200_000, staleMs: 60_000 },
    "Wind power at the battery",
  ),
  "wind.{id}.dumpPower": entry(
    ["number", "power"],
    { min: 0, max: 200_000, staleMs: 60_000 },
    "Burnt by the wind dump",
  ),
  "inverter.power": entry(
    ["number", "power"],
    { min: -1000, max: 200_000, staleMs: 60_000 },
    "AC power of the inverter",
  ),
  "inverter.temperature": entry(
    ["number", "temperature"],
    { min: -50, max: 150, staleMs: 120_000 },
    "Inverter temperature",
  ),
  "inverter.acVoltage": entry(
    ["number", "voltage"],
    { min: 0, max: 500, staleMs: 60_000 },
    "AC voltage",
  ),
  "inverter.frequency": entry(
    ["number", "frequency"],
    { min: 0, max: 100, staleMs: 60_000 },
    "AC frequency",
  ),
  "inverter.fault": entry(
    ["boolean", null],
    { min: 0, max: 1, staleMs: 120_000 },
    "Inverter reports a fault",
  ),
  "leg.{id}.power": entry(
    ["number", "power"],
    { min: -1000, max: 200_000, staleMs: 60_000 },
    "AC power of one leg",
  ),
  "dcLoads.power": entry(
    ["number", "power"],
    { min: -100, max: 200_000, staleMs: 60_000 },
    "DC loads on the battery",
  ),
  "generator.power": entry(
    ["number", "power"],
    { min: -100, max: 200_000, staleMs: 60_000 },
    "What the generator's charger gives",
  ),
  "generator.running": entry(
    ["boolean", null],
    { min: 0, max: 1, staleMs: 120_000 },
    "Generator runs",
  ),
  "forecast.today": entry(
    ["number", "energy"],
    { min: 0, max: 5_000_000, staleMs: 129_600_000 },
    "Energy that somebody expects of all arrays today",
  ),
  "forecast.tomorrow": entry(
    ["number", "energy"],
    { min: 0, max: 5_000_000, staleMs: 129_600_000 },
    "Energy that somebody expects of all arrays tomorrow",
  ),
  "sky.irradiance": entry(
    ["number", "irradiance"],
    { min: -20, max: 2000, staleMs: 60_000 },
    "Light on the irradiance sensor",
  ),
  "load.{id}.report": entry(
    ["number", "count"],
    { min: 0, max: 20, staleMs: null },
    "Stage that the actuator reports",
  ),
  "load.{id}.power": entry(
    ["number", "power"],
    { min: -100, max: 100_000, staleMs: 60_000 },
    "The load's own meter",
  ),
  "load.{id}.byHand": entry(
    ["boolean", null],
    { min: 0, max: 1, staleMs: null },
    "Actuator switched at the device",
  ),
  "load.{id}.tankTemperature": entry(
    ["number", "temperature"],
    { min: -20, max: 130, staleMs: 600_000 },
    "Tank temperature",
  ),
  "load.{id}.flow": entry(
    ["number", "flow"],
    { min: -1, max: 100_000, staleMs: 60_000 },
    "Water through a pump",
  ),
  "load.{id}.sourceLow": entry(
    ["boolean", null],
    { min: 0, max: 1, staleMs: 600_000 },
    "The pump's source is low",
  ),
  "load.{id}.level": entry(
    ["number", "fraction"],
    { min: 0, max: 1, staleMs: 600_000 },
    "Level of the cistern",
  ),
  "load.{id}.pipeTemperature": entry(
    ["number", "temperature"],
    { min: -50, max: 130, staleMs: 600_000 },
    "Pipe temperature",
  ),
  "load.{id}.pressed": entry(
    ["boolean", null],
    { min: 0, max: 1, staleMs: null },
    "Somebody pressed the button",
  ),
  "panel.{id}.report": entry(
    ["boolean", null],
    { min: 0, max: 1, staleMs: null },
    "Contactor position",
  ),
  "panel.{id}.power": entry(
    ["number", "power"],
    { min: -100, max: 200_000, staleMs: 60_000 },
    "What the panel draws",
  ),
} as const satisfies Record<string, SignalEntry>;

export type SignalKey = keyof typeof SIGNALS;

function entry(
  [type, dimension]: readonly [SignalType, SignalEntry["dimension"]],
  limits: Pick<SignalEntry, "min" | "max" | "staleMs">,
  meaning: string,
): SignalEntry {
  return { type, dimension, ...limits, meaning };
}
