/** `bywash tune`: better settings, looked for on recorded days. It changes nothing by itself. */
import { Command } from "commander";
import type { SiteSettings } from "../../config/site-settings.ts";
import type { Candidate } from "../../simulator/tune/tune.ts";
import type { Combination } from "../../simulator/tune/combinations.ts";
import { collect } from "./collect.ts";

interface TuneFlags {
  readonly config: string;
  readonly set: readonly string[];
  readonly vary: readonly string[];
  readonly most: string;
  readonly seed: string;
  readonly startSoc: string;
  readonly bridge?: boolean;
  readonly refine?: string;
  readonly json?: boolean;
}

const AFTER_HELP = `
VALUES is a range, of five values or by a step, or a list: 0..6%, 0..6% by 1%,
or 90 %, 92 %, 95 %. The last quarter of the days is held out: what was found is
shown on it, too. The result is a choice between useful energy, reserve and
starts, and the lines to change in the settings file. It changes nothing itself.

Example:
  bywash tune may.csv june.csv --config malga.yaml \\
    --vary loads.water-heater.start.aboveRuleCurve=0..6% \\
    --vary "ruleCurve.at=86..96 % by 2 %"`;

const STEP_S = 60;
const SEED_MAX = 2 ** 31 - 1;
const MOST_MAX = 10_000;

export function tuneCommand(): Command {
  return new Command("tune")
    .description("look for better settings on recorded days")
    .argument("<dayfile...>", "day files in order of time, or samples")
    .requiredOption("-c, --config <file>", "settings file; it is read, never written")
    .requiredOption("--vary <path=values>", "key to try with these; may be repeated", collect, [])
    .option("--set <path=value>", "override one key throughout; may be repeated", collect, [])
    .option("--most <number>", "try so many combinations at most, drawn by chance", "60")
    .option("--seed <number>", "of that chance", "1")
    .option("--start-soc <percent>", "state of charge to begin with", "80 %")
    .option("--bridge", "hold the last value across holes in the record")
    .option("--refine <seed>", "make likely minutes of hourly rows; each hour's energy stays")
    .option("--json", "print the result as one JSON object")
    .addHelpText("after", AFTER_HELP)
    .action(run);
}

async function run(names: readonly string[], flags: TuneFlags): Promise<void> {
  const { loadSite } = await import("../../config/load.ts");
  const { combinations } = await import("../../simulator/tune/combinations.ts");
  const { createLocalCalendar } = await import("../../config/local-calendar.ts");
  const { tune } = await import("../../simulator/tune/tune.ts");
  const { readVary } = await import("../../simulator/tune/vary.ts");
  const { wholeDays } = await import("../../simulator/tune/whole-days.ts");
  const { runTrials } = await import("../../simulator/trials.ts");
  const { decodeDays, readDays, readNumber, readShare } = await import("./replay-input.ts");
  const { reconstructed } = await import("./replay-reconstruct.ts");
  const { readRefine } = await import("./replay-refine.ts");
  const { tuneJson, tuneText } = await import("./tune-report.ts");
  const load = (set: Combination): SiteSettings =>
    loadSite({ path: flags.config, overrides: [...flags.set, ...set] });
  const varied = flags.vary.map(readVary);
  const now = load([]);
  // A key or unit that no settings know is an error at once, and not a combination to leave out.
  for (const { key, values } of varied) for (const value of values) await known(load, key, value);
  const most = readNumber("--most", flags.most, { min: 1, max: MOST_MAX });
  const seed = readNumber("--seed", flags.seed, { min: 0, max: SEED_MAX });
  const wanted = combinations(varied, { most, seed });
  const candidates = await possible(wanted, load);
  const read = readDays(names, now, await decodeDays(names));
  const input = {
    stepS: STEP_S,
    startFraction: readShare(flags.startSoc),
    mayBridge: flags.bridge === true,
    changes: null,
  };
  const { terminalProgress } = await import("./terminal-progress.ts");
  const progress = terminalProgress("tune");
  const tuned = await tune({
    now,
    candidates,
    days: wholeDays(
      reconstructed(() => readRefine(flags.refine, now)(read(() => undefined)), now).middle(),
      { place: now.control, calendar: createLocalCalendar(now.timeZone) },
    ),
    runAll: (sites, days) => runTrials(sites, { ...input, days }, { onProgress: progress.show }),
  }).finally(progress.end);
  const about = { site: now, seed, varied, leftOut: wanted.length - candidates.length };
  if (flags.json === true) print(tuneJson(tuned, about));
  else print(tuneText(tuned, { ...about, path: flags.config }));
}

type Load = (set: Combination) => SiteSettings;

/** Values that fit only beside others of the combination are refused by a check across keys. */
async function known(load: Load, key: string, value: string): Promise<void> {
  const { UserError } = await import("../errors.ts");
  try {
    load([`${key}=${value}`]);
  } catch (error) {
    if (!(error instanceof UserError)) throw error;
    const own = error.problems.filter(({ where }) => where.startsWith("--set"));
    if (own.some(({ code }) => FAULTS_OF_A_VALUE.has(code))) throw error;
  }
}

const FAULTS_OF_A_VALUE: ReadonlySet<string> = new Set([
  ...["unknown-key", "missing-unit", "wrong-unit", "unknown-unit", "out-of-range", "wrong-type"],
  ...["wrong-override", "wrong-text", "not-a-number", "unknown-word", "key-does-not-fit"],
]);

/** @throws UserError if the settings refuse every combination. */
async function possible(wanted: readonly Combination[], load: Load): Promise<readonly Candidate[]> {
  const { UserError } = await import("../errors.ts");
  const candidates: Candidate[] = [];
  let refusal: Error | null = null;
  for (const set of wanted) {
    try {
      candidates.push({ set, site: load(set) });
    } catch (error) {
      if (!(error instanceof UserError)) throw error;
      refusal = error;
    }
  }
  if (candidates.length === 0 && refusal !== null) throw refusal;
  return candidates;
}

function print(text: string): void {
  process.stdout.write(`${text}\n`);
}
