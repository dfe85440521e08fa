/** How a broker is reached: its address, and by what the service is let in. */
import type { BrokerSettings, BrokerTlsSettings } from "../../config/site-settings.ts";

export type PasswordSource =
  | { readonly kind: "none" }
  | { readonly kind: "known"; readonly password: string }
  /** Read anew at each attempt, so that a changed password needs no restart. */
  | { readonly kind: "file"; readonly file: string };

export interface BrokerAccess {
  readonly url: string;
  readonly protocolVersion: 4 | 5;
  readonly username: string | null;
  readonly password: PasswordSource;
  /** Used with an mqtts:// address alone. */
  readonly tls: BrokerTlsSettings;
}

export const NO_TLS_FILES: BrokerTlsSettings = {
  caFile: null,
  certificateFile: null,
  keyFile: null,
  serverName: null,
};

/** At a broker of somebody else, as the settings say. */
export function accessFrom(settings: BrokerSettings, url: string): BrokerAccess {
  const { protocolVersion, username, tls } = settings;
  return { url, protocolVersion, username, password: passwordSource(settings), tls };
}

function passwordSource({ username, passwordFile }: BrokerSettings): PasswordSource {
  if (passwordFile !== null) return { kind: "file", file: passwordFile };
  const password = process.env["BYWASH_BROKER_PASSWORD"] ?? "";
  return username === null || password === "" ? { kind: "none" } : { kind: "known", password };
}
