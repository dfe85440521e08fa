/** Reading the settings file again while the service runs: all of it, or nothing. */
import type { SiteSettings } from "../config/site-settings.ts";
import { UserError } from "./errors.ts";
import type { UserProblem } from "./errors.ts";
import type { Log } from "./log.ts";

export type ReloadAnswer =
  | {
      readonly isApplied: true;
      readonly warnings: readonly string[];
      /** Sections that were changed, but count only from the next start on. */
      readonly needsRestart: readonly string[];
    }
  /** The service runs on with the settings it had. */
  | { readonly isApplied: false; readonly problems: readonly UserProblem[] };

/**
 * @param input.load - Reads and checks the file. @throws UserError
 * @throws whatever else goes wrong: a failure of ours or of the machine.
 */
export function createReloader(input: {
  readonly load: () => SiteSettings;
  readonly daemon: () => { readonly refit: (site: SiteSettings) => readonly string[] };
  readonly log: Log;
}): () => ReloadAnswer {
  const { load, daemon, log } = input;
  return () => {
    let site: SiteSettings;
    try {
      site = load();
    } catch (error) {
      if (!(error instanceof UserError)) throw error;
      log.error({ problems: error.problems }, "settings refused; the service runs on as it was");
      return { isApplied: false, problems: error.problems };
    }
    const needsRestart = daemon().refit(site);
    for (const warning of site.warnings) log.warn({ warning }, "settings");
    if (needsRestart.length > 0) log.warn({ needsRestart }, "changed, but only after a restart");
    log.info({}, "settings applied");
    return { isApplied: true, warnings: site.warnings, needsRestart };
  };
}
