/** What an entry of the dictionaries of verdicts holds. */

/**
 * How grave a verdict is, by what has to happen next: `info` as intended; `warning` the service
 * deals with it; `alarm` a person should look.
 */
export type Severity = "info" | "warning" | "alarm";

/** Physical meaning of a verdict's number; `explain.ts` knows how to write each. */
export type QuantityKind =
  | "fraction"
  | "powerW"
  | "apparentPowerVA"
  | "currentA"
  | "voltageV"
  | "temperatureC"
  | "flowLPerMin"
  | "frequencyHz"
  | "count"
  | "minutes"
  | "energyWh";

export interface CodeEntry {
  readonly severity: Severity;
  /** Turned off by the interlock pass, whatever the scheduler wanted. */
  readonly isInterlock: boolean;
  readonly measured: QuantityKind | null;
  readonly limit: QuantityKind | null;
  /** `{measured}`, `{limit}` and `{remaining}` are filled in. No full stop at the end. */
  readonly sentence: string;
}

export function info(
  sentence: string,
  measured: QuantityKind | null,
  limit: QuantityKind | null,
): CodeEntry {
  return { severity: "info", isInterlock: false, measured, limit, sentence };
}

export function alarm(
  sentence: string,
  measured: QuantityKind | null,
  limit: QuantityKind | null,
): CodeEntry {
  return { severity: "alarm", isInterlock: true, measured, limit, sentence };
}

export function warning(
  sentence: string,
  measured: QuantityKind | null,
  limit: QuantityKind | null,
): CodeEntry {
  return { severity: "warning", isInterlock: true, measured, limit, sentence };
}
