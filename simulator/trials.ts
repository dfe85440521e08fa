/**
 * Several settings tried on the same days, on all cores: one worker thread each, which takes the
 * next trial when it has finished one. Settings and days are plain data and cross as such.
 */
import { availableParallelism } from "node:os";
import { Worker } from "node:worker_threads";
import type { SiteSettings } from "../config/site-settings.ts";
import { UserError } from "../service/errors.ts";
import type { UserProblem } from "../service/errors.ts";
import { invariant } from "../service/control/invariant.ts";
import type { DaySeries } from "./days/day-file.ts";
import type { OutcomeReport } from "./outcome.ts";
import type { PlantChanges } from "./plant/plant-changes.ts";

export interface TrialInput {
  readonly days: readonly DaySeries[];
  /** [s] 1…60 */
  readonly stepS: number;
  /** [1] 0…1 */
  readonly startFraction: number;
  readonly mayBridge: boolean;
  /** null: the shed is as the settings say. */
  readonly changes: PlantChanges | null;
}

/** To a worker: the days once, then one settings after the other. */
export type TrialOrder =
  | { readonly kind: "days"; readonly input: TrialInput }
  | { readonly kind: "try"; readonly index: number; readonly site: SiteSettings };

/** From a worker. */
export type TrialMessage =
  | { readonly kind: "day"; readonly index: number }
  | { readonly kind: "report"; readonly index: number; readonly report: OutcomeReport }
  | { readonly kind: "refused"; readonly index: number; readonly problems: readonly UserProblem[] };

export interface TrialOptions {
  /** Threads at most; never more than trials or cores. */
  readonly workersMax?: number;
  /** Called with the share of all days that is done. [1] 0…1 */
  readonly onProgress: (share: number) => void;
}

/** @returns one report for each of the settings, in their order. */
export async function runTrials(
  sites: readonly SiteSettings[],
  input: TrialInput,
  options: TrialOptions,
): Promise<readonly OutcomeReport[]> {
  const reports = new Map<number, OutcomeReport>();
  const waiting = [...sites.entries()];
  let daysDone = 0;
  const work = (): Promise<void> =>
    new Promise((resolve, reject) => {
      const worker = new Worker(new URL("./trial-worker.js", import.meta.url));
      const order = (next: TrialOrder): void => worker.postMessage(next);
      const next = (): void => {
        const trial = waiting.shift();
        if (trial === undefined) void worker.terminate().then(() => resolve(), reject);
        else order({ kind: "try", index: trial[0], site: trial[1] });
      };
      worker.on("error", reject);
      worker.on("message", (message: TrialMessage) => {
        if (message.kind === "day") {
          daysDone += 1;
          options.onProgress(daysDone / (sites.length * input.days.length));
        } else if (message.kind === "refused") {
          void worker.terminate().then(() => reject(new UserError(message.problems)), reject);
        } else {
          reports.set(message.index, message.report);
          next();
        }
      });
      order({ kind: "days", input });
      next();
    });
  const workers = Math.min(options.workersMax ?? Infinity, availableParallelism(), sites.length);
  await Promise.all(Array.from({ length: workers }, work));
  return [...sites.keys()].map((index) => {
    const report = reports.get(index);
    invariant(report !== undefined, "every trial has come to its end");
    return report;
  });
}
