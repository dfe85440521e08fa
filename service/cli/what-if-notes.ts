/** What a replayed day rests on, in sentences for whoever reads its figures. */
import type { SiteSettings } from "../../config/site-settings.ts";

export function notesOn(about: {
  readonly site: SiteSettings;
  readonly holesMs: number;
  /** The journal had what the service remembered when the day began. */
  readonly hasMemory: boolean;
  readonly hasSoc: boolean;
  readonly ratio: number;
}): readonly string[] {
  const { loads, sources } = about.site.control;
  const minutes = Math.round(about.holesMs / 60_000);
  return [
    "Both replays are of the simulated shed with the settings as they are now; what differs " +
      "from what happened is in both.",
    about.hasMemory
      ? "They begin with what the service had learned by then."
      : "What the service had learned by then is no longer in its journal: they begin without.",
    ...(about.hasSoc ? [] : ["The charge at the start is not known: 80 % is assumed."]),
    ...(minutes === 0
      ? []
      : [`${String(minutes)} min were not recorded; the values before them are held.`]),
    ...(loads.some(({ tank }) => tank !== null)
      ? ["How much hot water was drawn is not recorded: an average household's is assumed."]
      : []),
    ...(loads.some(({ pump }) => pump !== null) ? ["How full the cistern was is assumed."] : []),
    ...(sources.some(({ kind }) => kind === "hydro")
      ? ["Turbines in water are taken to give 70 % of their peak all day."]
      : []),
    ...(about.ratio === 1 ? [] : ["Arrays of another size are taken to give in proportion."]),
  ];
}
