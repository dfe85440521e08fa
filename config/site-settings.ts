/**
 * A whole checked settings file as plain data in SI numbers: the core's part in `control`, and what
 * the rooms around it need. Defaults are already filled in.
 */
import type { Appliance } from "../service/control/guidance/appliance.ts";
import type { ChargeStage } from "../service/control/observation.ts";
import type { ControlSettings } from "../service/control/settings.ts";
import type { SignalKey } from "./signals.ts";

/** How a payload (or the field of one) becomes a value. */
export type Decoding =
  /** value = number × scale + offset, in SI units. */
  | { readonly kind: "number"; readonly scale: number; readonly offset: number }
  /** 1 for a number above 0, else 0. */
  | { readonly kind: "aboveZero" }
  /** The text of the payload or field, looked up. */
  | { readonly kind: "numberTable"; readonly table: Readonly<Record<string, number>> }
  | { readonly kind: "booleanTable"; readonly table: Readonly<Record<string, boolean>> }
  | { readonly kind: "stageTable"; readonly table: Readonly<Record<string, ChargeStage>> };

/** The publisher's own time of a value. */
export interface StampSettings {
  /** RFC 6901 JSON pointer into the payload. */
  readonly field: string;
  /** RFC 3339 text, or a number of seconds or milliseconds since 1970-01-01T00:00:00Z. */
  readonly form: "rfc3339" | "seconds" | "milliseconds";
  /** A stamp further ahead of our clock than this is not believed. [ms] ≥ 0 */
  readonly aheadMaxMs: number;
}

/** One place where a value arrives, how to read it, and how far to believe it. */
export interface FeedSettings {
  /** A topic, or a filter with `+` or `#`. */
  readonly topic: string;
  /** RFC 6901 JSON pointer; null: the payload itself is the value. */
  readonly field: string | null;
  readonly decoding: Decoding;
  /** Plausible range, SI. */
  readonly min: number;
  readonly max: number;
  /** null: does not age. [ms] */
  readonly staleMs: number | null;
  readonly stamp: StampSettings | null;
  /** The fastest change to believe, SI; null: any. */
  readonly maxChange: { readonly by: number; readonly inMs: number } | null;
  /** Unchanged for longer than this while others moved, it is not believed; null: never. [ms] */
  readonly frozenMs: number | null;
  /** Its share in a mean. > 0 */
  readonly weight: number;
}

/** What gives one value: one feed alone, or several of one quantity. */
export interface SensorSettings {
  readonly combine: "alone" | "sum" | "mean" | "lowest" | "highest";
  readonly feeds: readonly FeedSettings[];
  /** Plausible range of the whole, SI. */
  readonly min: number;
  readonly max: number;
}

export interface SignalSettings {
  readonly key: SignalKey;
  /** Id that stands for `{id}` in the key; null for keys without one. */
  readonly ownerId: string | null;
  /** In order of preference, at least one: the first that is fresh is read. */
  readonly sensors: readonly SensorSettings[];
}

/** How the power of a modulating load is written into its command. */
export interface SetPointSettings {
  /** Text before and after the number. */
  readonly payload: readonly [before: string, after: string];
  /** Power for which the number counts one. [W] > 0 */
  readonly unitW: number;
  /** Digits after the decimal point. */
  readonly decimals: number;
  /** No set-point lies under this; less is off. [W] > 0 */
  readonly minW: number;
  /** A change is sent at once if it is at least this. [W] > 0 */
  readonly stepW: number;
}

export interface ActuatorSettings {
  /** `warning`: the lamp or sounder of a load. */
  readonly kind: "load" | "panel" | "warning";
  /** Place in `control.loads` or `control.panels`. */
  readonly index: number;
  /** Of the load or panel. */
  readonly id: string;
  readonly topic: string;
  /** Payload for each stage, off first; of a load with a set-point only off. */
  readonly payloads: readonly string[];
  /** null: the actuator has stages. */
  readonly setPoint: SetPointSettings | null;
  /** An ON is sent again this often. [ms] */
  readonly repeatMs: number;
  /** The actuator drops by itself this long after the last ON; ≥ 2.5 × repeatMs. [ms] */
  readonly holdMs: number;
}

/** Hosts that only this machine reaches. */
export const LOOPBACK_HOSTS: ReadonlySet<string> = new Set(["127.0.0.1", "::1", "localhost"]);

/** The broker's certificate is verified always; these say against what. */
export interface BrokerTlsSettings {
  /** PEM; null: the authorities that the system trusts. */
  readonly caFile: string | null;
  /** PEM, the service's own certificate and its key; both or neither. */
  readonly certificateFile: string | null;
  readonly keyFile: string | null;
  /** Name that the broker's certificate must bear; null: the host of the URL. */
  readonly serverName: string | null;
}

export interface BrokerUserSettings {
  readonly name: string;
  readonly passwordFile: string;
  /** Topic filters; empty: nothing. */
  readonly publish: readonly string[];
  readonly subscribe: readonly string[];
}

export interface EmbeddedBrokerSettings {
  readonly host: string;
  readonly port: number;
  /** null: anyone on this machine may do anything; `host` is a loopback host then. */
  readonly users: readonly BrokerUserSettings[] | null;
  /** null: without TLS. */
  readonly tls: { readonly certificateFile: string; readonly keyFile: string } | null;
}

export interface BrokerSettings {
  /** mqtt:// or mqtts:// URL; null: the embedded broker is started and used. */
  readonly url: string | null;
  readonly embedded: EmbeddedBrokerSettings | null;
  /** MQTT 5, or 4 for MQTT 3.1.1 (the protocol level byte of the standard). */
  readonly protocolVersion: 4 | 5;
  readonly username: string | null;
  /** Read from here when connecting, so that the password stands in no settings file. */
  readonly passwordFile: string | null;
  readonly tls: BrokerTlsSettings;
  /** Whether requests of people are taken from the broker. */
  readonly acceptsRequests: boolean;
}

export interface WebSettings {
  readonly host: string;
  readonly port: number;
  /** Holds the token that writes need; made at first start, readable by its owner alone. */
  readonly tokenFile: string;
  /** Who may read from other machines: whoever has the token, or anyone who can reach the port. */
  readonly reading: "token" | "open";
  /** Whether the settings may be changed on the page. */
  readonly isEditable: boolean;
}

export interface HistorySettings {
  readonly folder: string;
  readonly samplesKeptDays: number;
  readonly eventsKeptDays: number;
  readonly journalKeptDays: number;
  /** [byte] */
  readonly journalMaxBytes: number;
}

export interface SiteSettings {
  readonly id: string;
  readonly label: string;
  /** IANA name. */
  readonly timeZone: string;
  readonly control: ControlSettings;
  readonly broker: BrokerSettings;
  readonly web: WebSettings;
  readonly history: HistorySettings;
  readonly telemetry: readonly SignalSettings[];
  readonly actuators: readonly ActuatorSettings[];
  /** Started by people; the service only tells when it is a good time. */
  readonly appliances: readonly Appliance[];
  /** Findings that do not stop the service, in words. */
  readonly warnings: readonly string[];
}
