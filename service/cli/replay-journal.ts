/** `bywash replay --journal`: does the core decide a recorded day as it did then? */
import { existsSync } from "node:fs";
import { join } from "node:path";
import { loadSite } from "../../config/load.ts";
import { explainVerdict } from "../control/explain.ts";
import { step } from "../control/step.ts";
import { UserError } from "../errors.ts";
import { hangingLines } from "../hanging-text.ts";
import { readJournalDay } from "../history/journal/read-journal.ts";
import { reproduce } from "./reproduce.ts";
import type { Difference, Outcome, Reproduction } from "./reproduce.ts";
import { listSegments } from "../history/journal/segments.ts";
import { JOURNAL_FOLDER } from "../history/scribe.ts";
import { timestamp } from "../timestamp.ts";

interface JournalFlags {
  readonly config?: string;
  readonly set: readonly string[];
  readonly against?: string;
  readonly html?: string;
  readonly refine?: string;
  readonly events?: boolean;
  readonly bridge?: boolean;
  readonly bound?: boolean;
  readonly json?: boolean;
}

const DAYS_SHOWN = 5;

/** @throws UserError for flags that do not fit, and a day that the journal does not have. */
export function replayJournal(day: string, names: readonly string[], flags: JournalFlags): void {
  refuseBeside(names, flags);
  const { config = "", set, json: isJson = false } = flags;
  const { history } = loadSite({ path: config, overrides: set });
  const folder = join(history.folder, JOURNAL_FOLDER);
  refuseUnknownDay(folder, day);
  const result = reproduce(readJournalDay(folder, day), step);
  const isSame = result.difference === null && result.tickCount > 0;
  const text = isJson ? JSON.stringify({ day, isSame, ...result }, null, 2) : told(day, result);
  process.stdout.write(`${text}\n`);
  if (!isSame) process.exitCode = 1;
}

/** The day is decided with the settings that stand beside it, and none other. */
function refuseBeside(names: readonly string[], flags: JournalFlags): void {
  const beside = (["against", "html", "refine", "events", "bridge", "bound"] as const).find(
    (flag) => flags[flag] !== undefined,
  );
  const found = names[0] ?? (beside === undefined ? null : `--${beside}`);
  if (found !== null) {
    throw new UserError([
      {
        code: "flag-value",
        where: "--journal",
        found: `with ${found}`,
        expected: "one of the two",
      },
    ]);
  }
  if (flags.config !== undefined) return;
  throw new UserError([
    {
      code: "flag-missing",
      where: "--journal",
      expected: "--config with the settings file of the service, which says where its journal is",
    },
  ]);
}

function refuseUnknownDay(folder: string, day: string): void {
  const segments = existsSync(folder) ? listSegments(folder) : [];
  const days = [...new Set(segments.map((segment) => segment.day))];
  if (days.includes(day)) return;
  const known = days.length === 0 ? "a journal" : `one of ${days.slice(-DAYS_SHOWN).join(", ")}`;
  throw new UserError([
    {
      code: "journal-missing",
      where: folder,
      found: day,
      expected: `${known}, of a service that ran`,
    },
  ]);
}

function told(day: string, result: Reproduction): string {
  const { tickCount, runningCount, difference } = result;
  return [
    ...hangingLines(
      "",
      `${day}: ${String(tickCount)} ticks decided again, ` +
        `${String(runningCount)} of them with a load on`,
      2,
    ),
    ...stretchLines(result),
    ...result.gaps.flatMap(({ fromWallMs, toWallMs }) =>
      hangingLines("", `no tick from ${timestamp(fromWallMs)} to ${timestamp(toWallMs)}`, 2),
    ),
    ...result.damages.flatMap((damage) => {
      const why =
        damage.reason === "not-whole"
          ? "cannot be read"
          : "is of another version of the core, which this one does not understand";
      return hangingLines("", `${damage.path} from byte ${String(damage.atByte)}: ${why}`, 2);
    }),
    ...(difference === null ? [verdictOn(tickCount)] : differenceLines(difference)),
  ].join("\n");
}

function stretchLines({ stretches }: Reproduction): string[] {
  return stretches.flatMap(({ wallMs, codeVersion, settingsHash }) =>
    hangingLines(
      "",
      `from ${timestamp(wallMs)}: version ${codeVersion}, settings ${settingsHash.slice(0, 12)}`,
      2,
    ),
  );
}

function verdictOn(tickCount: number): string {
  return tickCount === 0
    ? "nothing could be compared"
    : "every decision is the same, to the last figure";
}

function differenceLines(difference: Difference): string[] {
  const { wallMs, localMinute, about, id, recorded, reproduced, message } = difference;
  const hour = String(Math.floor(localMinute / 60)).padStart(2, "0");
  const minute = String(localMinute % 60).padStart(2, "0");
  const where = id === null ? "" : `: ${about} ${id}`;
  const lines = [`first difference at ${hour}:${minute} (${timestamp(wallMs)})${where}`];
  if (about === "failure")
    return [...lines, ...hangingLines("  could not decide: ", message ?? "")];
  if (about === "figures") {
    lines.push("  every load and panel is as it was, but a figure is another");
    return [...lines, ...figureLines(difference)];
  }
  lines.push(`  recorded:   ${outcomeText(recorded)}`, `  reproduced: ${outcomeText(reproduced)}`);
  return [...lines, ...figureLines(difference)];
}

function outcomeText(outcome: Outcome | null): string {
  return outcome === null ? "nothing" : `${outcome.code}, stage ${String(outcome.stage)}`;
}

/** Numbers that the reproduced decision rests on; of the recorded one only its sum is kept. */
function figureLines({ verdicts, site }: Difference): string[] {
  if (site === null) return [];
  return verdicts.flatMap((verdict) =>
    hangingLines(
      "  now: ",
      `${explainVerdict(verdict, site)} (${verdict.code}, measured ` +
        `${String(verdict.measured)}, limit ${String(verdict.limit)})`,
    ),
  );
}
