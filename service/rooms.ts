import type { Chronicle } from "./chronicle.ts";
import type { Decision } from "./control/decision.ts";
import type { Memory } from "./control/memory.ts";
import type { DaemonOptions, DecisionListener } from "./daemon-contract.ts";
import type { FittingOptions, Fittings } from "./fittings.ts";
import type { SiteBroker } from "./site-broker.ts";
import type { SiteLinks } from "./site-links.ts";
import type { SwitchTests } from "./switch-test/switch-test.ts";
import type { Switching } from "./switching/actuators.ts";
import type { Ticker } from "./ticker.ts";
import type { WebServer } from "./web/server.ts";

/** What the parts of `daemon.ts` share; everything else is private to its room. */
export interface Rooms {
  readonly options: DaemonOptions;
  readonly fitting: FittingOptions;
  readonly ticker: Ticker;
  readonly chronicle: Chronicle;
  readonly listeners: Set<DecisionListener>;
  readonly switchTests: SwitchTests;
  fittings: Fittings;
  memory: Memory | null;
  decision: Decision | null;
  broker: SiteBroker | null;
  links: SiteLinks | null;
  switching: Switching | null;
  web: WebServer | null;
  /** Connections that are being exchanged after new settings. */
  exchange: Promise<void>;
  stopping: Promise<void> | null;
}
