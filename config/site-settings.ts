/**
 * A whole checked settings file as plain data in SI numbers: the core's part in `control`, and what
 * the rooms around it need. Defaults are already filled in.
 */
import type { ChargeStage } from "../service/control/observation.ts";
import type { ControlSettings } from "../service/control/settings.ts";
import type { SignalKey } from "./signals.ts";

/** How a payload (or the field of one) becomes a value. */
export type Decoding =
  /** value = number × scale + offset, in SI units. */
  | { readonly kind: "number"; readonly scale: number; readonly offset: number }
  /** The text of the payload or field, looked up. */
  | { readonly kind: "numberTable"; readonly table: Readonly<Record<string, number>> }
  | { readonly kind: "booleanTable"; readonly table: Readonly<Record<string, boolean>> }
  | { readonly kind: "stageTable"; readonly table: Readonly<Record<string, ChargeStage>> };

export interface SignalSettings {
  readonly key: SignalKey;
  /** Id that stands for `{id}` in the key; null for keys without one. */
  readonly ownerId: string | null;
  readonly topic: string;
  /** RFC 6901 JSON pointer; null: the payload itself is the value. */
  readonly field: string | null;
  readonly decoding: Decoding;
  /** Plausible range, SI. */
  readonly min: number;
  readonly max: number;
  /** null: does not age. [ms] */
  readonly staleMs: number | null;
}

export interface ActuatorSettings {
  readonly kind: "load" | "panel";
  /** Place in `control.loads` or `control.panels`. */
  readonly index: number;
  readonly id: string;
  readonly topic: string;
  /** Payload for each stage, off first. */
  readonly payloads: readonly string[];
  /** An ON is sent again this often. [ms] */
  readonly repeatMs: number;
  /** The actuator drops by itself this long after the last ON; ≥ 2.5 × repeatMs. [ms] */
  readonly holdMs: number;
}

export interface BrokerSettings {
  /** mqtt:// or mqtts:// URL; null: the embedded broker is started and used. */
  readonly url: string | null;
  readonly embedded: { readonly host: string; readonly port: number } | null;
  /** MQTT 5, or 4 for MQTT 3.1.1 (the protocol level byte of the standard). */
  readonly protocolVersion: 4 | 5;
  readonly username: string | null;
  /** Read from here when connecting, so that the password stands in no settings file. */
  readonly passwordFile: string | null;
}

export interface WebSettings {
  readonly host: string;
  readonly port: number;
  /** Holds the token that writes need; made at first start, readable by its owner alone. */
  readonly tokenFile: string;
}

export interface SiteSettings {
  readonly id: string;
  readonly label: string;
  /** IANA name. */
  readonly timeZone: string;
  readonly control: ControlSettings;
  readonly broker: BrokerSettings;
  readonly web: WebSettings;
  readonly telemetry: readonly SignalSettings[];
  readonly actuators: readonly ActuatorSettings[];
  /** Findings that do not stop the service, in words. */
  readonly warnings: readonly string[];
}
