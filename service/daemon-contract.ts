/** What a daemon is made of, and what it can be asked. */
import type { LocalCalendar } from "../config/local-calendar.ts";
import type { SiteSettings } from "../config/site-settings.ts";
import type { BrokerAccess } from "./broker/access.ts";
import type { Clock } from "./clock.ts";
import type { Decision } from "./control/decision.ts";
import type { Observation } from "./control/observation.ts";
import type { Step } from "./control/step.ts";
import type { SavedMemory } from "./history/memory-file.ts";
import type { RootLog } from "./log.ts";
import type { PastDesk } from "./past-desk.ts";
import type { SettingsDesk } from "./settings-desk.ts";
import type { ReloadAnswer } from "./reload.ts";
import type { SiteHistory } from "./site-history.ts";
import type { Mode, StateView } from "./state-view.ts";
import type { WhatIfDesk } from "./what-if-desk.ts";

export interface DaemonOptions {
  readonly site: SiteSettings;
  readonly clock: Clock;
  readonly step: Step;
  readonly log: RootLog;
  readonly mode: Mode;
  /** Shown to people; the program's own version. */
  readonly version?: string;
  /**
   * Days of a record in place of the site's own: of another place, and of any year. Their time is
   * a simulated one, and everybody who asks is told so.
   */
  readonly recordedTime?: LocalCalendar;
  /** A broker that already runs, in place of the one in the settings. */
  readonly broker?: BrokerAccess;
  /** In place of the settings' port (0: any free one); null: no web server at all. */
  readonly webPort?: number | null;
  /** Reads the settings file again, for those who ask over HTTP or MQTT; absent: nobody can. */
  readonly reload?: () => ReloadAnswer;
  /** The settings file for people on a page; absent: there is none. */
  readonly settings?: SettingsDesk;
  /** Where what happens is kept; absent: nowhere. It is opened and closed by whoever gives it. */
  readonly history?: Pick<SiteHistory, "record" | "recordCommand" | "keepTimes" | "refit">;
  /** Answers what is asked of the history; absent: nothing was kept. */
  readonly past?: PastDesk;
  /** Replays recorded days; absent: nobody can. It is closed by whoever gives it. */
  readonly whatIf?: WhatIfDesk;
  /** What the run before remembered; absent or null: every load begins as one just stopped. */
  readonly restored?: SavedMemory | null;
  /** A programmer's error: all is off by now, and the process has to end with 1. */
  readonly onFatal?: (error: unknown) => void;
}

export type DecisionListener = (decision: Decision, observation: Observation) => void;

export interface Daemon {
  /** Resolves once the rooms run; the broker may still be out of reach. @throws UserError */
  start(): Promise<void>;
  /** Everything off, as far as the broker can be reached; safe to call twice. */
  stop(): Promise<void>;
  /**
   * Other settings from now on, between two ticks. Loads that run stay on unless they say else.
   *
   * @returns Sections that count only from the next start on.
   */
  refit(site: SiteSettings): readonly string[];
  state(): StateView;
  /** What is published from now on arrives. */
  isListening(): boolean;
  /** Messages that have arrived. */
  received(): number;
  /** Commands that have been sent. */
  commanded(): number;
  /** Called after each tick. @returns A function that ends it. */
  onDecision(listener: DecisionListener): () => void;
  /** Where the web server listens; null without one. */
  webAddress(): { readonly host: string; readonly port: number } | null;
  brokerUrl(): string | null;
}
