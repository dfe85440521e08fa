/** `bywash weather`: made-up days at the site's place, as a day file. */
import { fileURLToPath } from "node:url";
import { Command } from "commander";
import { collect } from "./collect.ts";

interface WeatherFlags {
  /** Absent: the goat dairy that comes with the package. */
  readonly config?: string;
  readonly set: readonly string[];
  readonly date: string;
  readonly days: string;
  readonly sky: string;
  readonly seed: string;
  readonly out: string;
  readonly split?: boolean;
  readonly force?: boolean;
}

const EXAMPLE = fileURLToPath(new URL("../../config/examples/malga.yaml", import.meta.url));
/** Ten years. */
const DAYS_MAX = 3_660;

const AFTER_HELP = `
Minutes of light, air, wind and everyday use. The same seed makes the same days.
A wind blows where the site has a turbine in it, else light air. How fast the
light of a broken sky changes is held against measured minutes; how the kinds of
sky follow one another in a mixed season is not.

Examples:
  bywash weather --date 2025-06-01 --days 30 --sky mixed --out june.csv
  bywash weather --config site.yaml --sky broken --seed 7 --out day.csv`;

export function weatherCommand(): Command {
  return new Command("weather")
    .description("make up days of weather and everyday use at the site's place")
    .requiredOption("-o, --out <file>", "day file to write; ends in .csv or .parquet")
    .option("-c, --config <file>", "settings file; without it the goat dairy of the examples")
    .option("--set <path=value>", "override one key; may be repeated", collect, [])
    .option("--date <date>", "local date of the first day", "2025-06-12")
    .option("--days <number>", "how many", "1")
    .option("--sky <kind>", "clear, broken, overcast or mixed", "broken")
    .option("--seed <number>", "days differ by it", "1")
    .option("--split", "a file for each local day, its date in the name")
    .option("--force", "replace files that are there already")
    .addHelpText("after", AFTER_HELP)
    .action(run);
}

async function run(flags: WeatherFlags): Promise<void> {
  const { loadSite } = await import("../../config/load.ts");
  const { createDayOutput } = await import("../../simulator/days/day-output.ts");
  const { madeUpDays, SEASON_KINDS } = await import("../../simulator/weather/mixed-days.ts");
  const { terminalProgress } = await import("./terminal-progress.ts");
  const { readChoice, readDate, readNumber } = await import("./replay-input.ts");
  const site = loadSite({ path: flags.config ?? EXAMPLE, overrides: flags.set });
  const first = {
    site,
    localDate: readDate("--date", flags.date),
    seed: Math.floor(readNumber("--seed", flags.seed, { min: 0, max: 1_000_000_000 })),
  };
  const sky = readChoice("--sky", flags.sky, SEASON_KINDS);
  const count = Math.floor(readNumber("--days", flags.days, { min: 1, max: DAYS_MAX }));
  const output = await createDayOutput({
    path: flags.out,
    isSplit: flags.split === true,
    mayReplace: flags.force === true,
  });
  const progress = terminalProgress("weather");
  let done = 0;
  try {
    for (const day of madeUpDays(first, sky, count)) {
      output.write(day);
      done += 1;
      progress.show(done / count);
    }
    const written = output.commit();
    progress.end();
    process.stdout.write(`written: ${written.join(", ")}\n`);
  } catch (error) {
    progress.end();
    output.discard();
    throw error;
  }
}
