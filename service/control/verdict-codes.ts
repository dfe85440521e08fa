/**
 * The dictionary of verdicts: every reason that the core can give, its gravity, what its two
 * numbers mean, and the sentence that a person reads. Sentences, screens and docs derive from it.
 */

/**
 * How grave a verdict is, by what has to happen next: `info` as intended; `warning` the service
 * deals with it; `alarm` a person should look.
 */
export type Severity = "info" | "warning" | "alarm";

/** Physical meaning of a verdict's number; `explain.ts` knows how to write each. */
export type QuantityKind =
  | "fraction"
  | "powerW"
  | "voltageV"
  | "temperatureC"
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

function info(
  sentence: string,
  measured: QuantityKind | null,
  limit: QuantityKind | null,
): CodeEntry {
  return { severity: "info", isInterlock: false, measured, limit, sentence };
}

function alarm(
  sentence: string,
  measured: QuantityKind | null,
  limit: QuantityKind | null,
): CodeEntry {
  return { severity: "alarm", isInterlock: true, measured, limit, sentence };
}

function warning(
  sentence: string,
  measured: QuantityKind | null,
  limit: QuantityKind | null,
): CodeEntry {
  return { severity: "warning", isInterlock: true, measured, limit, sentence };
}

export const SITE_CODES = {
  "broker-lost": alarm("the broker is not connected", null, null),
  "telemetry-missing": alarm("telemetry that it needs is missing or old", null, null),
  "soc-unknown": alarm("no state of charge can be had", null, null),
  "discharge-blocked": alarm("the battery's own protection blocks discharge", null, null),
  "below-floor": alarm(
    "state of charge {measured} is under the floor {limit}",
    "fraction",
    "fraction",
  ),
  "voltage-low": alarm("battery at {measured} is under {limit}", "voltageV", "voltageV"),
  "inverter-fault": alarm("the inverter reports a fault", null, null),
  "inverter-overload": alarm(
    "the inverter gives {measured}, more than its {limit}",
    "powerW",
    "powerW",
  ),
  "inverter-hot": alarm(
    "the inverter is at {measured}, limit {limit}",
    "temperatureC",
    "temperatureC",
  ),
  "ac-voltage": alarm("AC voltage {measured} is past {limit}", "voltageV", "voltageV"),
  "ac-frequency": alarm("AC frequency {measured} is past {limit}", "frequencyHz", "frequencyHz"),
  "generator-running": warning("the generator is running", null, null),
  "soc-disagrees": {
    severity: "warning",
    isInterlock: false,
    measured: "fraction",
    limit: "fraction",
    sentence: "the monitor says {measured}, our own count {limit}; the lower one is used",
  },
  "soc-from-count": {
    severity: "warning",
    isInterlock: false,
    measured: null,
    limit: null,
    sentence: "the monitor is silent; our own count of the charge is used",
  },
  "voltage-high": {
    severity: "alarm",
    isInterlock: false,
    measured: "voltageV",
    limit: "voltageV",
    sentence: "battery at {measured}, over {limit}: nothing new starts",
  },
  "charge-blocked": {
    severity: "warning",
    isInterlock: false,
    measured: null,
    limit: null,
    sentence: "the battery takes no charge; what the sun gives is all surplus",
  },
  "clock-implausible": {
    severity: "warning",
    isInterlock: false,
    measured: null,
    limit: null,
    sentence: "the clock cannot be right: windows, quotas and the sun are not used",
  },
} as const satisfies Record<string, CodeEntry>;

export type SiteCode = keyof typeof SITE_CODES;

export const VERDICT_CODES = {
  // Running
  running: info("on: battery at {measured}, stops under {limit}", "fraction", "fraction"),
  "running-min-run": info(
    "on for {remaining} more (minimum run), would stop otherwise",
    null,
    null,
  ),
  "running-stop-soon": info(
    "on: battery {measured}, under stop mark {limit}; off in {remaining} if so",
    "fraction",
    "fraction",
  ),
  "running-short-of-power": info(
    "on: battery gives {measured}, more than {limit}; off in {remaining} if so",
    "powerW",
    "powerW",
  ),
  "running-full-charge": info(
    "on, but a full charge is overdue: off in {remaining} if that lasts",
    null,
    null,
  ),
  "running-no-power": {
    severity: "warning",
    isInterlock: false,
    measured: "powerW",
    limit: "powerW",
    sentence: "on at {measured} of {limit}: own thermostat, unplugged or broken",
  },
  // Waiting
  "waiting-band": info("waits: battery at {measured}, starts from {limit}", "fraction", "fraction"),
  "waiting-voltage": info(
    "waits: battery at rest would be at {measured}, start mark {limit}",
    "voltageV",
    "voltageV",
  ),
  "waiting-full": info("waits until the battery is held at its set-point", null, null),
  "waiting-dwell": info(
    "waits: over its start mark, starts in {remaining} if that lasts",
    null,
    null,
  ),
  "waiting-power": info("waits: {measured} to spare, it needs {limit}", "powerW", "powerW"),
  "waiting-night": info(
    "waits: by night it needs {limit} to spare; there is {measured}",
    "powerW",
    "powerW",
  ),
  "waiting-full-charge": info("waits: a full charge of the battery is overdue", null, null),
  "waiting-generator": info(
    "waits {remaining}: the generator ran, its charge is no surplus",
    null,
    null,
  ),
  "waiting-inverter": info(
    "waits: the inverter has {measured} left, it needs {limit}",
    "powerW",
    "powerW",
  ),
  "waiting-surge": info(
    "waits: the inverter can start {measured}, it needs {limit} to start",
    "powerW",
    "powerW",
  ),
  "waiting-feeder": info(
    "waits: its panel's feeder has {measured} left, it needs {limit}",
    "powerW",
    "powerW",
  ),
  "waiting-rest": info("rests for {remaining} more", null, null),
  "waiting-starts": info(
    "waits {remaining}: {measured} starts within the hour, {limit} allowed",
    "count",
    "count",
  ),
  "waiting-stagger": info("waits {remaining}: another load has just been switched", null, null),
  "waiting-contactor": info("waits for its panel's contactor to close", null, null),
  "waiting-retry": info(
    "waits {remaining}, then tries again: its last start was not confirmed",
    null,
    null,
  ),
  "waiting-high-voltage": info(
    "waits: battery at {measured} is over {limit}",
    "voltageV",
    "voltageV",
  ),
  "waiting-priority": info("waits: a load ranked before it goes first", null, null),
  // No demand
  "tank-warm": info(
    "off: the tank is at {measured}, its aim is {limit}",
    "temperatureC",
    "temperatureC",
  ),
  "quota-run-met": info("off: {measured} today, its quota is {limit}", "minutes", "minutes"),
  "quota-energy-met": info("off: {measured} today, its quota is {limit}", "energyWh", "energyWh"),
  "outside-window": info("off: outside its hours", null, null),
  // Stopped by the scheduler at this tick
  "stopped-band": info(
    "stopped: battery at {measured}, under its stop mark {limit}",
    "fraction",
    "fraction",
  ),
  "stopped-voltage": info(
    "stopped: battery at rest would be at {measured}, stop mark {limit}",
    "voltageV",
    "voltageV",
  ),
  "stopped-full-charge": info("stopped: a full charge of the battery is overdue", null, null),
  "stopped-not-full": info("stopped: the battery is no longer held at its set-point", null, null),
  "stopped-power": info(
    "stopped: the battery gave {measured}, more than {limit}",
    "powerW",
    "powerW",
  ),
  // Not ours
  "by-hand": {
    severity: "warning",
    isInterlock: false,
    measured: null,
    limit: null,
    sentence: "on by hand at the device; counted as everyday use",
  },
  // Interlocks of the load itself
  "site-interlock": warning("off: the whole site is held off", null, null),
  "tank-hot": alarm(
    "off: the tank is at {measured}, limit {limit}",
    "temperatureC",
    "temperatureC",
  ),
  "tank-unknown": alarm("off: the tank's temperature is not known", null, null),
  "feeder-overload": alarm(
    "off: its panel draws {measured}, its feeder carries {limit}",
    "powerW",
    "powerW",
  ),
  "panel-open": warning("off: its panel's contactor is open", null, null),
  unconfirmed: warning(
    "off: its start was not confirmed ({measured} of {limit} tries)",
    "count",
    "count",
  ),
  "latched-dead": alarm(
    "latched off: {measured} starts were not confirmed. Look, then clear it",
    "count",
    null,
  ),
  "latched-welded": alarm(
    "latched off: stayed on after OFF, welded? Look, then clear it",
    null,
    null,
  ),
  "latched-panel": alarm(
    "latched off: its panel's contactor disobeys. Look, then clear it",
    null,
    null,
  ),
  // Panels
  "panel-closed": info("closed: a load on it runs or is about to", null, null),
  "panel-waits-members": info("open until every load on it is confirmed off", null, null),
  "panel-lingers": info("closed for {remaining} more, to spare the contactor", null, null),
  "panel-idle": info("open: no load on it may run", null, null),
} as const satisfies Record<string, CodeEntry>;

export type VerdictCode = keyof typeof VERDICT_CODES;
