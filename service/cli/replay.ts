/** `bywash replay`: what the settings would have done on recorded days, in a simulated shed. */
import { fileURLToPath } from "node:url";
import { Command } from "commander";
import type { SiteSettings } from "../../config/site-settings.ts";
import type { BoundOptions } from "../../simulator/bound/bound.ts";
import type { DaySeries } from "../../simulator/days/day-file.ts";
import type { OutcomeReport } from "../../simulator/outcome.ts";
import type { RibbonDay } from "../../simulator/report/ribbon-record.ts";
import { collect } from "./collect.ts";
import type { Progress } from "./replay-progress.ts";

interface ReplayFlags {
  /** Absent: the goat dairy that comes with the package. */
  readonly config?: string;
  readonly set: readonly string[];
  readonly step: string;
  readonly startSoc: string;
  readonly bridge?: boolean;
  readonly refine?: string;
  readonly events?: boolean;
  readonly json?: boolean;
  readonly against?: string;
  readonly html?: string;
  readonly bound?: boolean;
  readonly plant?: string;
  readonly journal?: string;
}

const DAY_MS = 86_400_000;

/** The goat dairy that comes with the package, so that a first try needs no file. */
const EXAMPLE = fileURLToPath(new URL("../../config/examples/malga.yaml", import.meta.url));

const AFTER_HELP = `
DAYFILE is a day file (CSV or Parquet), or a sample that comes with Bywash:
  sample:measured   measured broken cloud and household
  sample:clear      made up for the site of the settings, as are the next two
  sample:broken
  sample:overcast

Examples:
  bywash replay sample:measured
  bywash replay sample:broken --set "ruleCurve.at=90 %" --events
  bywash replay sample:broken --set "ruleCurve.at=90 %" --against malga.yaml
  bywash replay sample:measured --html measured.html
  bywash replay --journal 2026-03-02 --config malga.yaml`;

export function replayCommand(): Command {
  return new Command("replay")
    .description("say what the settings would have done on recorded days")
    .argument("[dayfile...]", "day files in order of time, or samples")
    .option("-c, --config <file>", "settings file; without it the goat dairy of the examples")
    .option("--set <path=value>", "override one key; may be repeated", collect, [])
    .option("--step <time>", "length of a simulated step, 1 s to 60 s", "60 s")
    .option("--start-soc <percent>", "state of charge to begin with", "80 %")
    .option("--bridge", "hold the last value across holes in the record")
    .option("--refine <seed>", "make likely minutes of hourly rows; each hour's energy stays")
    .option("--events", "list every start and stop with its reason")
    .option("--against <file>", "compare with these settings on the same days")
    .option("--html <file>", "write the result as a page with a picture of every day")
    .option("--plant <file>", "what is so in the shed and not in its settings")
    .option("--bound", "compare with the best that any controller could have done")
    .option("--journal <day>", "decide a day of the service's journal again; 1 if it differs")
    .option("--json", "print the result as one JSON object")
    .addHelpText("after", AFTER_HELP)
    .action(run);
}

async function run(names: readonly string[], flags: ReplayFlags): Promise<void> {
  if (flags.journal !== undefined) {
    const { replayJournal } = await import("./replay-journal.ts");
    replayJournal(flags.journal, names, flags);
    return;
  }
  await refuseNoDays(names);
  const { loadSite } = await import("../../config/load.ts");
  const site = loadSite({ path: flags.config ?? EXAMPLE, overrides: flags.set });
  if (flags.against === undefined) return runOne(names, flags, site);
  await refuseBeside(flags);
  const { compareOnDays } = await import("./replay-compare.ts");
  const other = loadSite({ path: flags.against, overrides: [] });
  const written = {
    step: flags.step,
    startSoc: flags.startSoc,
    mayBridge: flags.bridge === true,
    refine: flags.refine,
    plant: flags.plant,
  };
  print(await compareOnDays(names, { sites: [site, other], written, isJson: flags.json === true }));
}

async function refuseNoDays(names: readonly string[]): Promise<void> {
  if (names.length > 0) return;
  const { UserError } = await import("../errors.ts");
  throw new UserError([
    {
      code: "day-missing",
      where: "replay",
      found: "",
      expected: "a day file or sample, or --journal",
    },
  ]);
}

/** What only one settings file can have. */
async function refuseBeside(flags: ReplayFlags): Promise<void> {
  const { UserError } = await import("../errors.ts");
  const beside = (["events", "html", "bound"] as const).find((flag) => flags[flag] !== undefined);
  if (beside === undefined) return;
  throw new UserError([
    {
      code: "flag-value",
      where: `--${beside}`,
      found: "with --against",
      expected: "one of the two",
    },
  ]);
}

async function runOne(
  names: readonly string[],
  flags: ReplayFlags,
  site: SiteSettings,
): Promise<void> {
  const { createLocalCalendar } = await import("../../config/local-calendar.ts");
  const { plantOf, readPlantChanges } = await import("../../simulator/plant/plant-changes.ts");
  const { replay } = await import("../../simulator/replay.ts");
  const { createRibbonRecorder } = await import("../../simulator/report/ribbon-record.ts");
  const { step } = await import("../control/step.ts");
  const { decodeDays, readDays, readShare, readStepS } = await import("./replay-input.ts");
  const { reconstructed } = await import("./replay-reconstruct.ts");
  const { readRefine } = await import("./replay-refine.ts");
  const { withRange } = await import("../../simulator/reconstruct/with-range.ts");
  const { createEventList, reportText } = await import("./replay-report.ts");
  const { terminalProgress } = await import("./terminal-progress.ts");
  const read = readDays(names, site, await decodeDays(names));
  const refine = readRefine(flags.refine, site);
  const events = createEventList(site);
  const ribbons = createRibbonRecorder(site);
  const places = new Set<string>();
  const { middle: days, ends } = reconstructed(
    () => refine(read(({ place, name }) => place !== null && places.add(name))),
    site,
  );
  const shed = {
    site,
    calendar: createLocalCalendar(site.timeZone),
    stepS: readStepS(flags.step),
    startFraction: readShare(flags.startSoc),
    mayBridge: flags.bridge === true,
    plant: plantOf(site, flags.plant === undefined ? null : readPlantChanges(flags.plant)),
  };
  const replayed = withProgress(terminalProgress("replay"), days(), (counted) =>
    replay({
      ...shed,
      days: counted,
      step,
      onDecision: flags.events === true ? events.add : null,
      onStep: flags.html === undefined ? null : ribbons.add,
    }),
  );
  const endOf = (list: readonly DaySeries[]): OutcomeReport =>
    replay({ ...shed, days: list, step, onDecision: null });
  const ranged =
    ends === null
      ? replayed
      : withRange(replayed, { low: endOf(ends.low), high: endOf(ends.high) });
  const report = flags.bound === true ? await bounded(ranged, { ...shed, days: days() }) : ranged;
  if (flags.html !== undefined) {
    await writePage(flags.html, { site, report, days: ribbons.days() });
  }
  const texts = { events: events.lines(), recordedElsewhere: [...places] };
  const isJson = flags.json === true;
  print(isJson ? JSON.stringify(report, null, 2) : reportText({ report, site, ...texts }));
}

/** Days come one by one from their files: nobody knows how many there will be. */
function withProgress(
  progress: Progress,
  days: Iterable<DaySeries>,
  run: (days: Iterable<DaySeries>) => OutcomeReport,
): OutcomeReport {
  try {
    return run(counted(days, progress));
  } finally {
    progress.end();
  }
}

function* counted(days: Iterable<DaySeries>, progress: Progress): Iterable<DaySeries> {
  let readMs = 0;
  for (const day of days) {
    yield day;
    // A file may end and begin in the middle of a day.
    readMs += day.timesMs.length * day.stepMs;
    progress.tell(`days read: ${(readMs / DAY_MS).toFixed(0)}`);
  }
}

async function bounded(report: OutcomeReport, options: BoundOptions): Promise<OutcomeReport> {
  const { boundOfDays } = await import("./bound-days.ts");
  const { withBound } = await import("../../simulator/bound/with-bound.ts");
  return withBound(report, await boundOfDays(options));
}

async function writePage(
  path: string,
  page: {
    readonly site: SiteSettings;
    readonly report: OutcomeReport;
    readonly days: readonly RibbonDay[];
  },
): Promise<void> {
  const { reportPage } = await import("../../simulator/report/report-page.ts");
  const { writeReportFile } = await import("./replay-file.ts");
  writeReportFile(path, reportPage(page));
}

function print(text: string): void {
  process.stdout.write(`${text}\n`);
}
