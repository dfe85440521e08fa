/** The broker of one site: one that runs already, one elsewhere, or the embedded one. */
import type { SiteSettings } from "../config/site-settings.ts";
import { accessFrom } from "./broker/access.ts";
import type { BrokerAccess } from "./broker/access.ts";
import { createEmbeddedBroker } from "./broker/embedded.ts";
import type { Log } from "./log.ts";

export interface SiteBroker {
  /** How the service gets in. */
  readonly access: BrokerAccess;
  /** Where everybody else finds it. */
  readonly url: string;
  /** Ends it if it was started here. */
  readonly close: () => Promise<void>;
}

const EMBEDDED = { host: "127.0.0.1", port: 0, users: null, tls: null };

/** @param running - Already there, in place of the one in the settings. @throws UserError */
export async function openSiteBroker(
  { broker }: SiteSettings,
  running: BrokerAccess | undefined,
  log: Log,
): Promise<SiteBroker> {
  const elsewhere = running ?? (broker.url === null ? null : accessFrom(broker, broker.url));
  if (elsewhere !== null) {
    return { access: elsewhere, url: elsewhere.url, close: () => Promise.resolve() };
  }
  return createEmbeddedBroker(broker.embedded ?? EMBEDDED, log);
}
