/** `bywash import`: other programs' records as day files, and these from one form to the other. */
import { basename } from "node:path";
import { Command } from "commander";
import type { DaySeries } from "../../simulator/days/day-file.ts";
import type { DayOutput } from "../../simulator/days/day-output.ts";
import type { ImportNotes } from "../../simulator/import/import-files.ts";
import { UserError } from "../errors.ts";
import { collect } from "./collect.ts";

interface ImportFlags {
  readonly map?: string;
  readonly set: readonly string[];
  readonly out?: string;
  readonly split?: string;
  readonly household?: string;
  readonly show?: boolean;
  readonly json?: boolean;
  readonly force?: boolean;
}

const AFTER_HELP = `
A mapping (YAML) says which column is which, its unit, and how time is written.
Without one the files are day files (CSV or Parquet).

Mappings that come with Bywash, each with an example in its head:
  builtin:surfrad   builtin:midc            builtin:midc-raw   builtin:srrl
  builtin:tmy3      builtin:tmy3-measured   builtin:tm2        builtin:epw
  builtin:pvgis     builtin:sandia-abq      builtin:dtu        builtin:rmis
  builtin:serf-east builtin:normalised-pv
  builtin:example   one to copy, with every key explained

Examples:
  bywash import slv16001.dat --map builtin:surfrad --show
  bywash import slv16001.dat --map builtin:surfrad --household 1 --out day.csv
  bywash import year.csv --out year.parquet
  bywash import --map builtin:example > mapping.yaml`;

export function importCommand(): Command {
  return new Command("import")
    .description("make day files of other programs' records")
    .argument("[file...]", "files in order of time")
    .option("-m, --map <file>", "mapping file, or builtin:NAME")
    .option("--set <path=value>", "override one key of the mapping; may be repeated", collect, [])
    .option("-o, --out <file>", "day file to write; ends in .csv or .parquet")
    .option("--split <by>", "day: a file for each local day, its date in the name")
    .option("--household <seed>", "add base_load_w: made up by a seed, or of a day file")
    .option("--show", "print what was understood; without --out nothing is written")
    .option("--json", "print it as one JSON object")
    .option("--force", "replace files that are there already")
    .addHelpText("after", AFTER_HELP)
    .action(run);
}

async function run(paths: readonly string[], flags: ImportFlags): Promise<void> {
  if (paths.length === 0) {
    await printMapping(flags);
    return;
  }
  const { createSummary } = await import("../../simulator/import/import-summary.ts");
  const { importText, writtenText } = await import("./import-report.ts");
  const { terminalProgress } = await import("./terminal-progress.ts");
  const notes: ImportNotes = { unused: new Set(), emptied: new Map() };
  const pieces = await piecesOf(paths, flags, notes);
  const output = await outputOf(flags);
  const builder = createSummary();
  const progress = terminalProgress("import");
  const written = await writeAll(pieces, output, (piece) => {
    builder.add(piece);
    progress.tell(`up to ${dayOf(piece)}`);
  }).finally(progress.end);
  const summary = builder.summary();
  if (summary === null) return;
  const unused = [...notes.unused];
  const report = { summary, unused, emptied: Object.fromEntries(notes.emptied), written };
  const asText = flags.show === true ? importText : writtenText;
  print(flags.json === true ? JSON.stringify(report, null, 2) : asText(report));
}

/** The last day of a piece, in UTC. */
function dayOf({ timesMs }: DaySeries): string {
  return new Date(timesMs.at(-1) ?? 0).toISOString().slice(0, 10);
}

/** A mapping to start from. */
async function printMapping(flags: ImportFlags): Promise<void> {
  const { mappingText } = await import("../../simulator/import/read-mapping.ts");
  if (flags.map === undefined) throw flagError("import", "no file", "a file to import");
  process.stdout.write(mappingText(flags.map));
}

type Pieces = AsyncIterable<DaySeries> | Iterable<DaySeries>;

async function piecesOf(
  paths: readonly string[],
  flags: ImportFlags,
  notes: ImportNotes,
): Promise<Pieces> {
  const pieces = await rawPieces(paths, flags, notes);
  if (flags.household === undefined) return pieces;
  return withHousehold(pieces, flags.household);
}

/** @param written - A seed of a made-up household, or a day file whose use is taken. */
async function* withHousehold(pieces: Pieces, written: string): AsyncGenerator<DaySeries> {
  const { madeUpHousehold, recordedHousehold, withUse } =
    await import("../../simulator/import/household-column.ts");
  const { openDayPieces } = await import("../../simulator/days/open-day-file.ts");
  const household = /^\d{1,9}$/.test(written)
    ? madeUpHousehold(Number(written))
    : await recordedHousehold(basename(written), openDayPieces(written));
  for await (const piece of pieces) yield withUse(household, piece);
}

async function rawPieces(
  paths: readonly string[],
  flags: ImportFlags,
  notes: ImportNotes,
): Promise<Pieces> {
  if (flags.map === undefined) {
    const { joinDayFiles } = await import("../../simulator/import/join-day-files.ts");
    return joinDayFiles(paths);
  }
  const { readMapping } = await import("../../simulator/import/read-mapping.ts");
  const { importFiles } = await import("../../simulator/import/import-files.ts");
  return importFiles({ paths, mapping: readMapping(flags.map, flags.set), notes });
}

async function outputOf(flags: ImportFlags): Promise<DayOutput | null> {
  const { out, split } = flags;
  if (split !== undefined && split !== "day") throw flagError("--split", split, "day");
  if (out === undefined) {
    const hasResult = flags.show === true || flags.json === true;
    if (hasResult) return null;
    throw flagError("import", "neither --out nor --show", "--out FILE, or --show to look only");
  }
  const { createDayOutput } = await import("../../simulator/days/day-output.ts");
  const isSplit = split === "day";
  return createDayOutput({ path: out, isSplit, mayReplace: flags.force === true });
}

/** @returns the files that were written; after a failure there are none. */
async function writeAll(
  pieces: Pieces,
  output: DayOutput | null,
  onPiece: (piece: DaySeries) => void,
): Promise<readonly string[]> {
  try {
    for await (const piece of pieces) {
      onPiece(piece);
      output?.write(piece);
    }
    return output?.commit() ?? [];
  } catch (error) {
    output?.discard();
    throw error;
  }
}

function flagError(where: string, found: string, expected: string): UserError {
  return new UserError([{ code: "flag-value", where, found, expected }]);
}

function print(text: string): void {
  process.stdout.write(`${text}\n`);
}
