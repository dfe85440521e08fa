/** `bywash export`: recorded days as day files, whether the service runs or not. */
import { Command } from "commander";
import { UserError } from "../errors.ts";
import { collect } from "./collect.ts";

interface ExportFlags {
  readonly config: string;
  readonly set: readonly string[];
  readonly from?: string;
  readonly to?: string;
  readonly out: string;
  readonly split?: string;
  readonly potential?: boolean;
  readonly force?: boolean;
  readonly json?: boolean;
}

export function exportCommand(): Command {
  return new Command("export")
    .description("write recorded days as day files; the service may run meanwhile")
    .requiredOption("-c, --config <file>", "settings file")
    .option("--set <path=value>", "override one key; may be repeated", collect, [])
    .option("--from <day>", "first local day, such as 2026-03-02")
    .option("--to <day>", "last local day")
    .requiredOption("-o, --out <file>", "day file to write; ends in .csv or .parquet")
    .option("--split <by>", "day: a file for each local day, its date in the name")
    .option("--potential", "with pv_potential_w as the service itself has estimated it")
    .option("--force", "replace files that are there already")
    .option("--json", "print what was written as one JSON object")
    .addHelpText(
      "after",
      "\nThe rows are means of a minute. What a full battery made the arrays hold back" +
        "\nis not in them: `curtailed` says when that was. A load without a meter counts" +
        "\nas drawing what it was allotted, and base_load_w is left out then.\n" +
        "\nExample:\n  bywash export --config site.yaml --from 2026-03-02 --out march.csv",
    )
    .action(run);
}

async function run(flags: ExportFlags): Promise<void> {
  const { join } = await import("node:path");
  const { loadSite } = await import("../../config/load.ts");
  const { createLocalCalendar } = await import("../../config/local-calendar.ts");
  const { createDayOutput } = await import("../../simulator/days/day-output.ts");
  const { recordedDays } = await import("../history/reading/days.ts");
  const { openReader } = await import("../history/reading/reader.ts");
  const { DATABASE_FILE } = await import("../history/scribe.ts");
  const { exportedDays } = await import("./export-days.ts");
  const { dayText } = await import("../local-days.ts");
  if (flags.split !== undefined && flags.split !== "day") throw flagError("--split", flags.split);
  const which = { ...(await rangeOf(flags)), limit: Number.MAX_SAFE_INTEGER };
  const site = loadSite({ path: flags.config, overrides: flags.set });
  const reader = openReader(join(site.history.folder, DATABASE_FILE));
  const days = recordedDays(reader, which).reverse();
  const isSplit = flags.split === "day";
  const mayReplace = flags.force === true;
  const output = await createDayOutput({ path: flags.out, isSplit, mayReplace });
  const calendar = createLocalCalendar(site.timeZone);
  const options = { site, calendar, withPotential: flags.potential === true };
  let rowCount = 0;
  let dayCount = 0;
  try {
    for (const piece of exportedDays(reader, days, options)) {
      output.write(piece);
      rowCount += piece.timesMs.length;
      dayCount += 1;
    }
    if (dayCount === 0) throw nothingRecorded(flags, days.map(dayText));
    const result = { files: output.commit(), dayCount, rowCount };
    const text = flags.json === true ? JSON.stringify(result, null, 2) : told(result);
    process.stdout.write(`${text}\n`);
  } catch (error) {
    output.discard();
    throw error;
  } finally {
    reader.close();
  }
}

function told(result: {
  readonly files: readonly string[];
  readonly dayCount: number;
  readonly rowCount: number;
}): string {
  const { files, dayCount, rowCount } = result;
  const days = `${String(dayCount)} ${dayCount === 1 ? "day" : "days"}`;
  const sum = `${String(rowCount)} minutes of ${days}`;
  return [...files.map((file) => `written: ${file}`), sum].join("\n");
}

async function rangeOf({
  from,
  to,
}: ExportFlags): Promise<{ readonly fromDay: number; readonly toDay: number }> {
  const { localDayOf } = await import("../local-days.ts");
  const dayIn = (flag: string, text: string | undefined, otherwise: number): number => {
    if (text === undefined) return otherwise;
    const localDay = localDayOf(text);
    if (localDay === null) throw flagError(flag, text);
    return localDay;
  };
  const fromDay = dayIn("--from", from, Number.MIN_SAFE_INTEGER);
  const toDay = dayIn("--to", to, Number.MAX_SAFE_INTEGER);
  if (fromDay <= toDay) return { fromDay, toDay };
  throw new UserError([
    {
      code: "flag-value",
      where: "--to",
      found: String(to),
      expected: `not before ${String(from)}`,
    },
  ]);
}

function flagError(where: string, found: string): UserError {
  const expected = where === "--split" ? "day" : "a date such as 2026-03-02";
  return new UserError([{ code: "flag-value", where, found, expected }]);
}

function nothingRecorded({ from, to }: ExportFlags, days: readonly string[]): UserError {
  const asked = `${from ?? "the beginning"} to ${to ?? "now"}`;
  const found = days.length === 0 ? "no day" : `no minutes of ${days.join(", ")}`;
  return new UserError([
    { code: "days-missing", where: asked, found, expected: "a day on which the service ran" },
  ]);
}
