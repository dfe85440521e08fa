/** The dictionary of what can be wrong with a site as a whole, with the sentence for each. */
import { alarm, warning } from "./code-entry.ts";
import type { CodeEntry } from "./code-entry.ts";

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
  "voltage-over-input": alarm(
    "battery at {measured}, the inverter takes {limit} at most",
    "voltageV",
    "voltageV",
  ),
  "discharge-over-limit": alarm(
    "the battery gives {measured}, its limit is {limit}",
    "currentA",
    "currentA",
  ),
  "power-unbalanced": alarm(
    "the meters disagree by {measured}, {limit} allowed",
    "powerW",
    "powerW",
  ),
  "soc-not-following": alarm(
    "the state of charge, {measured}, does not follow the current",
    "fraction",
    null,
  ),
  "leg-overload": alarm(
    "a leg of the inverter carries {measured}, its limit is {limit}",
    "powerW",
    "powerW",
  ),
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
