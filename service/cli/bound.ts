/** `bywash bound`: the best that any controller could have done on recorded days. */
import { fileURLToPath } from "node:url";
import { Command } from "commander";
import { collect } from "./collect.ts";

interface BoundFlags {
  readonly config?: string;
  readonly set: readonly string[];
  readonly startSoc: string;
  readonly bridge?: boolean;
  readonly refine?: string;
  readonly plant?: string;
  readonly json?: boolean;
}

/** The goat dairy that comes with the package, so that a first try needs no file. */
const EXAMPLE = fileURLToPath(new URL("../../config/examples/malga.yaml", import.meta.url));
const STEP_S = 60;

const AFTER_HELP = `
With perfect foresight of sun and use, in steps of a quarter of an hour, and the
reserve kept: the floor at night, the target at every sunset that can reach it.
A year takes a minute or so.

Examples:
  bywash bound sample:measured
  bywash bound june.csv july.csv --config malga.yaml --json`;

export function boundCommand(): Command {
  return new Command("bound")
    .description("say what the best of all controllers could have diverted")
    .argument("<dayfile...>", "day files in order of time, or samples")
    .option("-c, --config <file>", "settings file; without it the goat dairy of the examples")
    .option("--set <path=value>", "override one key; may be repeated", collect, [])
    .option("--start-soc <percent>", "state of charge to begin with", "80 %")
    .option("--bridge", "hold the last value across holes in the record")
    .option("--refine <seed>", "make likely minutes of hourly rows; each hour's energy stays")
    .option("--plant <file>", "what is so in the shed and not in its settings")
    .option("--json", "print the result as one JSON object")
    .addHelpText("after", AFTER_HELP)
    .action(run);
}

async function run(names: readonly string[], flags: BoundFlags): Promise<void> {
  const { loadSite } = await import("../../config/load.ts");
  const { createLocalCalendar } = await import("../../config/local-calendar.ts");
  const { boundOfDays } = await import("./bound-days.ts");
  const { boundJson, boundText } = await import("./bound-report.ts");
  const { decodeDays, readDays, readShare } = await import("./replay-input.ts");
  const { plantOf, readPlantChanges } = await import("../../simulator/plant/plant-changes.ts");
  const { reconstructed } = await import("./replay-reconstruct.ts");
  const { readRefine } = await import("./replay-refine.ts");
  const site = loadSite({ path: flags.config ?? EXAMPLE, overrides: flags.set });
  const read = readDays(names, site, await decodeDays(names));
  const bound = await boundOfDays({
    site,
    days: reconstructed(() => readRefine(flags.refine, site)(read(() => undefined)), site).middle(),
    calendar: createLocalCalendar(site.timeZone),
    stepS: STEP_S,
    startFraction: readShare(flags.startSoc),
    mayBridge: flags.bridge === true,
    plant: plantOf(site, flags.plant === undefined ? null : readPlantChanges(flags.plant)),
  });
  print(flags.json === true ? boundJson(site, bound) : boundText(site, bound));
}

function print(text: string): void {
  process.stdout.write(`${text}\n`);
}
