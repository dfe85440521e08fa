/** What a rig is given, and what it is made of. */
import type { LocalTime } from "../../config/local-calendar.ts";
import type { SiteSettings } from "../../config/site-settings.ts";
import type { DaySeries } from "../../simulator/days/day-file.ts";
import type { Decided, OutcomeReport } from "../../simulator/outcome.ts";
import type { Decision } from "../control/decision.ts";
import type { Step } from "../control/step.ts";
import type { RootLog } from "../log.ts";

export interface RigRunOptions {
  readonly site: SiteSettings;
  readonly days: Iterable<DaySeries>;
  readonly startFraction: number;
  readonly mayBridge: boolean;
  /** Simulated time over real time, at most; Infinity: as fast as the machine can. [1] > 0 */
  readonly speed: number;
  /** Simulated time to run; the record may end earlier. [ms] > 0 */
  readonly forMs: number;
  readonly step: Step;
  readonly log: RootLog;
  readonly version: string;
  /** A broker that runs already; null: one of its own. */
  readonly elsewhere: { readonly url: string; readonly listenMs: number } | null;
  readonly hasWeb: boolean;
  /** The service is a process of its own, and is waited for; null: it is made here. */
  readonly serviceElsewhere: { onWaiting(brokerUrl: string): void } | null;
  readonly listener: RigListener;
}

export interface RigListener {
  /** Before the first step; the run waits for it. */
  onReady(addresses: { readonly broker: string; readonly web: string | null }): Promise<void>;
  /** Before each step of the shed. [ms since 1970-01-01T00:00:00Z] */
  onStep?(wallMs: number): void;
  /** After each tick of a service in this process. */
  onDecision(decision: Decision, time: LocalTime): void;
}

export interface RigRun {
  /** Runs to the end; resolves with what happened. @throws UserError */
  run(): Promise<OutcomeReport>;
  /** Ticks of the service so far. */
  decisionCount(): number;
  /** Ends the run at the next step, everything off. */
  end(): void;
}

export interface RigService {
  start(): Promise<{ readonly web: string | null }>;
  /**
   * What the shed has published reaches the service, it decides at `elapsedMs`, and what it
   * commands reaches the shed. @throws Error if a message stays away.
   */
  turn(elapsedMs: number): Promise<void>;
  lastDecision(): Decided | null;
  /** Ticks so far. */
  decisionCount(): number;
  stop(): Promise<void>;
}
