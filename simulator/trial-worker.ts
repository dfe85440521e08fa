/** One thread of `trials.ts`: replays the days that it is given with each settings it is sent. */
import { parentPort } from "node:worker_threads";
import type { MessagePort } from "node:worker_threads";
import { createLocalCalendar } from "../config/local-calendar.ts";
import { UserError } from "../service/errors.ts";
import { invariant } from "../service/control/invariant.ts";
import { step } from "../service/control/step.ts";
import type { DaySeries } from "./days/day-file.ts";
import { keepFeeds } from "./kept-feeds.ts";
import { keepReferences } from "./kept-references.ts";
import { plantOf } from "./plant/plant-changes.ts";
import { replay } from "./replay.ts";
import type { KeptBetweenRuns } from "./replay.ts";
import type { TrialInput, TrialMessage, TrialOrder } from "./trials.ts";

type Tell = (message: TrialMessage) => void;
type KeptInput = TrialInput & { readonly kept: KeptBetweenRuns };

invariant(parentPort !== null, "this file runs in a worker thread");
serve(parentPort);

function serve(port: MessagePort): void {
  let input: KeptInput | null = null;
  const tell: Tell = (message) => port.postMessage(message);
  port.on("message", (order: TrialOrder) => {
    if (order.kind === "days") {
      const kept = { feedOf: keepFeeds(), referenceOf: keepReferences() };
      input = { ...order.input, kept };
      return;
    }
    invariant(input !== null, "the days are sent before the first settings");
    tell(tryOut(order, input, tell));
  });
}

function tryOut(
  { index, site }: Extract<TrialOrder, { readonly kind: "try" }>,
  input: KeptInput,
  tell: Tell,
): TrialMessage {
  try {
    const report = replay({
      site,
      days: countedDays(input.days, () => tell({ kind: "day", index })),
      step,
      calendar: createLocalCalendar(site.timeZone),
      stepS: input.stepS,
      startFraction: input.startFraction,
      mayBridge: input.mayBridge,
      plant: plantOf(site, input.changes),
      onDecision: null,
      kept: input.kept,
    });
    return { kind: "report", index, report };
  } catch (error) {
    if (!(error instanceof UserError)) throw error;
    return { kind: "refused", index, problems: error.problems };
  }
}

/** A day counts as done when the next one is asked for. */
function* countedDays(days: readonly DaySeries[], onDone: () => void): Generator<DaySeries> {
  for (const day of days) {
    yield day;
    onDone();
  }
}
