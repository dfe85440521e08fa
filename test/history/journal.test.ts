import { readdirSync, readFileSync, statSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { expect, it } from "vitest";
import { initialMemory } from "../../service/control/memory.ts";
import type { Observation } from "../../service/control/observation.ts";
import { step } from "../../service/control/step.ts";
import { createJournal } from "../../service/history/journal/journal.ts";
import type { Journal } from "../../service/history/journal/journal.ts";
import { readJournalDay, readSegment } from "../../service/history/journal/read-journal.ts";
import type { JournalEntry } from "../../service/history/journal/read-journal.ts";
import { dayName } from "../../service/history/journal/segments.ts";
import type { Tick } from "../../service/history/messages.ts";
import { createShed, settings } from "./day-of-ticks.ts";
import { scratchFolders } from "./scratch.ts";

const HOUR_MS = 3_600_000;
/** Prime to the sizes of all parts, so that each kind of place is met. [byte] */
const STRIDE = 17;
const newFolder = scratchFolders();
const start = { codeVersion: "1.2.3", settingsHash: "hash", settings };

function open(folder: string, limits: { keptDays?: number; keptBytes?: number } = {}): Journal {
  return createJournal({ folder, keptDays: 14, keptBytes: 1e9, start, ...limits });
}

function write(journal: Journal, ticks: readonly Tick[]): void {
  for (const { observation, decision, memoryBefore } of ticks) {
    journal.append({ observation, decision, memoryBefore: () => memoryBefore, isNext: true });
  }
}

function observationsOf(entries: Iterable<JournalEntry>): Observation[] {
  return [...entries].flatMap((entry) => (entry.kind === "tick" ? [entry.observation] : []));
}

/** Runs the core over what the journal holds, as a replay does. */
function decisionsOf(entries: Iterable<JournalEntry>): unknown[] {
  const decisions: unknown[] = [];
  let memory = initialMemory(settings, 0);
  let control = settings;
  for (const entry of entries) {
    if (entry.kind === "start") ({ memory, settings: control } = entry.start);
    if (entry.kind !== "tick") continue;
    const result = step(memory, entry.observation, control);
    memory = result.memory;
    decisions.push(result.decision);
  }
  return decisions;
}

it("lets every decision of a day be worked out again, over restarts and midnight", () => {
  const folder = newFolder();
  const ticks = [0, 11.5 * HOUR_MS].flatMap((startMs) => {
    const run = createShed(startMs).during(HOUR_MS);
    const journal = open(folder);
    write(journal, run);
    journal.close();
    return run;
  });
  expect(readdirSync(folder).sort()).toEqual([
    "2026-06-21-001.journal",
    "2026-06-21-002.journal",
    "2026-06-22-001.journal",
  ]);
  const entries = [
    ...readJournalDay(folder, "2026-06-21"),
    ...readJournalDay(folder, "2026-06-22"),
  ];
  expect(entries.filter(({ kind }) => kind === "start")).toHaveLength(3);
  expect(decisionsOf(entries)).toStrictEqual(ticks.map(({ decision }) => decision));
  expect(new Set(ticks.map(({ decision }) => decision.loadStages.join())).size).toBeGreaterThan(1);
});

it("says with what a segment begins", () => {
  const folder = newFolder();
  const ticks = createShed().during(60_000);
  const journal = open(folder);
  write(journal, ticks);
  journal.close();
  const [first] = readJournalDay(folder, "2026-06-21");
  expect(first).toStrictEqual({
    kind: "start",
    start: { ...start, memory: ticks[0]!.memoryBefore },
  });
});

it("gives back whole blocks only, wherever the file was cut", () => {
  const folder = newFolder();
  const journal = open(folder);
  const ticks = createShed().during(5 * 60_000);
  write(journal, ticks);
  journal.close();
  const [name] = readdirSync(folder);
  const path = join(folder, name!);
  const whole = readFileSync(path);
  const written = ticks.map(({ observation }) => observation);
  const counts = new Set<number>();
  for (let length = 0; length < whole.length; length += STRIDE) {
    writeFileSync(path, whole.subarray(0, length));
    const entries = [...readSegment(path)];
    const read = observationsOf(entries);
    expect(read).toStrictEqual(written.slice(0, read.length));
    counts.add(read.length);
    const damages = entries.filter(({ kind }) => kind === "damage");
    expect(damages.length).toBeLessThanOrEqual(1);
  }
  // Five blocks, and the cut ends between two of them are found too.
  expect(counts.size).toBeGreaterThan(3);
  writeFileSync(path, whole);
  expect(observationsOf(readSegment(path))).toHaveLength(ticks.length);
});

it("never gives back an altered value, whichever byte was changed", () => {
  const folder = newFolder();
  const journal = open(folder);
  const ticks = createShed().during(3 * 60_000);
  write(journal, ticks);
  journal.close();
  const path = join(folder, readdirSync(folder)[0]!);
  const whole = readFileSync(path);
  const written = ticks.map(({ observation }) => observation);
  for (let at = 0; at < whole.length; at += STRIDE) {
    const changed = Buffer.from(whole);
    changed[at]! ^= 1 << (at % 8);
    writeFileSync(path, changed);
    const entries = [...readSegment(path)];
    const read = observationsOf(entries);
    expect(read).toStrictEqual(written.slice(0, read.length));
    expect(entries.at(-1)).toMatchObject({ kind: "damage" });
  }
});

it("keeps what was flushed when the process ends without a word", () => {
  const folder = newFolder();
  const journal = open(folder);
  const ticks = createShed().during(100_000);
  write(journal, ticks);
  journal.flush();
  expect(observationsOf(readJournalDay(folder, "2026-06-21"))).toHaveLength(ticks.length);
  journal.close();
});

it("drops the oldest days and bytes, and never the segment that it writes", () => {
  const folder = newFolder();
  const dayMs = 24 * HOUR_MS;
  for (let day = 0; day < 5; day += 1) {
    const journal = open(folder, { keptDays: 3 });
    write(journal, createShed(day * dayMs).during(60_000));
    journal.close();
  }
  const days = ["2026-06-23", "2026-06-24", "2026-06-25"];
  expect(readdirSync(folder).sort()).toEqual(days.map((day) => `${day}-001.journal`));
  const size = statSync(join(folder, "2026-06-25-001.journal")).size;
  const journal = open(folder, { keptBytes: size * 1.5 });
  write(journal, createShed(5 * dayMs).during(60_000));
  journal.close();
  expect(readdirSync(folder)).toEqual(["2026-06-26-001.journal"]);
  const tiny = open(folder, { keptBytes: 1 });
  write(tiny, createShed(6 * dayMs).during(60_000));
  tiny.close();
  expect(readdirSync(folder)).toEqual(["2026-06-27-001.journal"]);
});

it("loses one day at most to a clock that is wrong by years", () => {
  const folder = newFolder();
  for (let day = 0; day < 3; day += 1) {
    const journal = open(folder, { keptDays: 3 });
    write(journal, createShed(day * 24 * HOUR_MS).during(60_000));
    journal.close();
  }
  const journal = open(folder, { keptDays: 3 });
  write(journal, [createShed().tick({ localDay: 47_000 })]);
  journal.close();
  expect(readdirSync(folder).sort()).toEqual([
    "2026-06-22-001.journal",
    "2026-06-23-001.journal",
    "2098-09-06-001.journal",
  ]);
});

it("names even a day that no calendar has", () => {
  expect(dayName(20_625)).toBe("2026-06-21");
  expect(dayName(1e12)).toBe("day1000000000000");
  expect(dayName(NaN)).toBe("dayNaN");
});

it("counts what a disk refuses, and begins anew with the memory of then", () => {
  const folder = join(newFolder(), "journal");
  writeFileSync(folder, "a file where the folder should be");
  const journal = open(folder);
  const shed = createShed();
  const lost = shed.during(50_000);
  write(journal, lost);
  expect(() => journal.flush()).toThrow();
  expect(journal.droppedCount()).toBe(lost.length);
  expect(journal.isWriting()).toBe(false);
  const blocked = readFileSync(folder, "utf8");
  expect(blocked).toBe("a file where the folder should be");
});
