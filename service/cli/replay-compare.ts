/** `bywash replay --against`: two settings on the same days, each in a thread of its own. */
import type { SiteSettings } from "../../config/site-settings.ts";
import type { DaySeries } from "../../simulator/days/day-file.ts";
import { runTrials } from "../../simulator/trials.ts";
import { readPlantChanges } from "../../simulator/plant/plant-changes.ts";
import { comparison, comparisonText } from "../../simulator/report/comparison.ts";
import { UserError } from "../errors.ts";
import { decodeDays, readDays, readShare, readStepS } from "./replay-input.ts";
import { reconstructed } from "./replay-reconstruct.ts";
import { readRefine } from "./replay-refine.ts";
import { terminalProgress } from "./terminal-progress.ts";

export interface CompareInput {
  readonly sites: readonly [SiteSettings, SiteSettings];
  readonly written: {
    readonly step: string;
    readonly startSoc: string;
    readonly mayBridge: boolean;
    readonly refine: string | undefined;
    readonly plant: string | undefined;
  };
  readonly isJson: boolean;
}

/** @returns the comparison as text or as JSON. */
export async function compareOnDays(
  names: readonly string[],
  input: CompareInput,
): Promise<string> {
  const { sites, written } = input;
  const [first, second] = sites;
  const days = await sharedDays(names, first, written.refine);
  const progress = terminalProgress("replay");
  const [one, other] = await runTrials(
    sites,
    {
      days,
      stepS: readStepS(written.step),
      startFraction: readShare(written.startSoc),
      mayBridge: written.mayBridge,
      changes: written.plant === undefined ? null : readPlantChanges(written.plant),
    },
    { onProgress: progress.show },
  ).finally(progress.end);
  if (one === undefined || other === undefined) throw new TypeError("two settings, two reports");
  const compared = comparison(one, other);
  if (input.isJson) return JSON.stringify(compared, null, 2);
  return comparisonText(compared, [first.label, second.label]);
}

/** Both have to meet the same weather: made-up days are those of the first settings' place. */
async function sharedDays(
  names: readonly string[],
  site: SiteSettings,
  refine: string | undefined,
): Promise<readonly DaySeries[]> {
  const read = readDays(names, site, await decodeDays(names));
  const refined = () => readRefine(refine, site)(read(() => undefined));
  const days = [...reconstructed(refined, site).middle()];
  if (days.length > 0) return days;
  throw new UserError([{ code: "no-days", where: "days", expected: "at least one day" }]);
}
