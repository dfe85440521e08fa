/** What the service remembered when a recorded day began: a replay of it begins with that. */
import { existsSync } from "node:fs";
import { join } from "node:path";
import { step } from "../control/step.ts";
import type { Step } from "../control/step.ts";
import { firstMemory } from "../first-memory.ts";
import { readJournalDay } from "../history/journal/read-journal.ts";
import type { SavedMemory } from "../history/memory-file.ts";
import { JOURNAL_FOLDER } from "../history/scribe.ts";

/** @returns null where the journal has nothing of that day that this version understands. */
export function memoryAtStart(historyFolder: string, date: string): SavedMemory | null {
  const folder = join(historyFolder, JOURNAL_FOLDER);
  if (!existsSync(folder)) return null;
  let saved: Omit<SavedMemory, "wallMs"> | null = null;
  for (const entry of readJournalDay(folder, date)) {
    if (entry.kind === "damage") return null;
    if (entry.kind === "start") {
      saved ??= { codeVersion: entry.start.codeVersion, body: entry.start.memory };
    } else if (saved !== null) {
      return { ...saved, wallMs: entry.observation.wallMs };
    }
  }
  return null;
}

/** The core, which finds at its first tick what was saved, as the service does after a restart. */
export function stepFrom(saved: SavedMemory | null): Step {
  let isFirst = saved !== null;
  return (memory, observation, control) => {
    if (!isFirst || saved === null) return step(memory, observation, control);
    isFirst = false;
    // A minute's mean begins before the tick that the memory is of.
    const wallMs = Math.min(saved.wallMs, observation.wallMs);
    return step(firstMemory({ ...saved, wallMs }, control, observation), observation, control);
  };
}
