/** `bywash report`: what a week or a day came to, whether the service runs or not. */
import { Command } from "commander";
import { UserError } from "../errors.ts";
import type { Reader } from "../history/reading/reader.ts";
import type { Period } from "../look-back/look-back.ts";
import { collect } from "./collect.ts";

interface ReportFlags {
  readonly config: string;
  readonly set: readonly string[];
  readonly week?: string;
  readonly day?: string;
  readonly json: boolean;
}

export function reportCommand(): Command {
  return new Command("report")
    .description("tell what a week or a day came to; the service may run meanwhile")
    .requiredOption("-c, --config <file>", "settings file")
    .option("--set <path=value>", "override one key; may be repeated", collect, [])
    .option("--week <week>", "such as 2026-W10 (ISO 8601); without it, the last whole week")
    .option("--day <day>", "one local day, such as 2026-03-02")
    .option("--json", "print the report as one JSON object", false)
    .addHelpText(
      "after",
      "\nExamples:\n  bywash report --config site.yaml\n" +
        "  bywash report --config site.yaml --week 2026-W10 --json\n\n" +
        "Weeks begin on Monday at midnight of the site's zone. What a held-back array\n" +
        "could have given is the service's own estimate. `bywash schema --of report`\n" +
        "describes the JSON.",
    )
    .action(run);
}

async function run(flags: ReportFlags): Promise<void> {
  const { join } = await import("node:path");
  const { loadSite } = await import("../../config/load.ts");
  const { createLocalCalendar } = await import("../../config/local-calendar.ts");
  const { openReader } = await import("../history/reading/reader.ts");
  const { DATABASE_FILE } = await import("../history/scribe.ts");
  const { systemClock } = await import("../clock.ts");
  const { lookBack } = await import("../look-back/look-back.ts");
  const site = loadSite({ path: flags.config, overrides: flags.set });
  const nowMs = systemClock.wallMs();
  const period = await periodOf(flags, createLocalCalendar(site.timeZone)(nowMs).localDay);
  const reader = openReader(join(site.history.folder, DATABASE_FILE));
  try {
    const report = lookBack(reader, site, { period, nowMs });
    if (report === null) throw await nothingRecorded(period, reader);
    const { lookBackText } = await import("./report-text.ts");
    const text = flags.json ? JSON.stringify(report, null, 2) : lookBackText(report, site);
    process.stdout.write(`${text}\n`);
  } finally {
    reader.close();
  }
}

const WEEK_DAYS = 7;

async function periodOf({ week, day }: ReportFlags, today: number): Promise<Period> {
  const { mondayOf, mondayOfWeek, weekText } = await import("../look-back/iso-week.ts");
  const { localDayOf } = await import("../local-days.ts");
  if (week !== undefined && day !== undefined) {
    throw flagError("--day", day, "either --week or --day, not both");
  }
  if (day !== undefined) {
    const localDay = localDayOf(day);
    if (localDay === null) throw flagError("--day", day, "a date such as 2026-03-02");
    return { kind: "day", name: day, fromDay: localDay, toDay: localDay };
  }
  const monday = week === undefined ? mondayOf(today) - WEEK_DAYS : mondayOfWeek(week);
  if (monday === null) throw flagError("--week", week ?? "", "a week such as 2026-W10");
  const name = weekText(monday);
  return { kind: "week", name, fromDay: monday, toDay: monday + WEEK_DAYS - 1 };
}

function flagError(where: string, found: string, expected: string): UserError {
  return new UserError([{ code: "flag-value", where, found, expected }]);
}

async function nothingRecorded({ name, kind }: Period, reader: Reader): Promise<UserError> {
  const { recordedDays } = await import("../history/reading/days.ts");
  const { dayText } = await import("../local-days.ts");
  const all = { fromDay: Number.MIN_SAFE_INTEGER, toDay: Number.MAX_SAFE_INTEGER };
  const days = recordedDays(reader, { ...all, limit: Number.MAX_SAFE_INTEGER });
  const [newest, oldest] = [days[0], days.at(-1)];
  const expected =
    newest === undefined || oldest === undefined
      ? "a history in which a day was recorded"
      : `a ${kind} with days from ${dayText(oldest)} to ${dayText(newest)}`;
  return new UserError([{ code: "days-missing", where: name, found: "no minute", expected }]);
}
