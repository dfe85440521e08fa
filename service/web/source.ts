import type { SiteSettings } from "../../config/site-settings.ts";
import type { GuidanceView } from "../guidance-view.ts";
import type { LearnedView } from "../learned-view.ts";
import type { SentAlert } from "../publishing.ts";
import type { Chronicle } from "../chronicle.ts";
import type { PastDesk } from "../past-desk.ts";
import type { ReloadAnswer } from "../reload.ts";
import type { LoadOrder } from "../requests.ts";
import type { SettingsDesk } from "../settings-desk.ts";
import type { LoadView, StateView } from "../state-view.ts";
import type { WhatIfDesk } from "../what-if-desk.ts";
import type { TestBegin } from "../switch-test/switch-test.ts";

/** What the web room may ask of the daemon. */
export interface WebSource {
  /** null where nothing is kept. */
  readonly past: PastDesk | null;
  /** null where days cannot be replayed. */
  readonly whatIf: WhatIfDesk | null;
  readonly state: () => StateView;
  readonly site: () => SiteSettings;
  readonly isTimeSimulated: boolean;
  readonly guidance: () => GuidanceView;
  readonly learned: () => LearnedView;
  /** null before the first tick. [ms] */
  readonly lastTickAgeMs: () => number | null;
  readonly tickMs: () => number;
  /** Events and totals of this run. */
  readonly chronicle: Chronicle;
  /** Reads the settings file again; null where nobody can. */
  readonly reload: (() => ReloadAnswer) | null;
  /** @returns False if nothing of that name is learned. */
  readonly requestUnlearn: (what: string) => boolean;
  /** null where there is no settings file. */
  readonly settings: SettingsDesk | null;
  /** @returns False if there is no such load or panel. */
  readonly requestClear: (kind: "load" | "panel", id: string) => boolean;
  /**
   * @returns The load once a tick has decided on it, null if none has within some seconds; null
   *   without waiting if there is no such load.
   */
  readonly requestLoad: (id: string, order: LoadOrder) => Promise<LoadView | null> | null;
  /** Sends an alert that says of itself that it is a test. */
  readonly testAlert: () => Promise<SentAlert>;
  /** A load is switched while a person stands by. */
  readonly testSwitch: (id: string) => TestBegin;
}
