/** What each released version has left on the disk is still understood: `test/data/releases`. */
import { cpSync, existsSync, readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { z } from "zod";
import { loadSite } from "../../config/load.ts";
import { initialMemory } from "../../service/control/memory.ts";
import { restoredTimes } from "../../service/control/guidance/restored-times.ts";
import { NO_TIMES } from "../../service/control/guidance/times-record.ts";
import { restoreMemory } from "../../service/control/restored-memory.ts";
import { readSegment } from "../../service/history/journal/read-journal.ts";
import { listSegments } from "../../service/history/journal/segments.ts";
import { loadMemory } from "../../service/history/memory-file.ts";
import { readMigrations } from "../../service/history/migrate.ts";
import { createStore } from "../../service/history/store.ts";
import { query, scratchFolders } from "./scratch.ts";

const RELEASES = "test/data/releases";
const VERSIONS = readdirSync(RELEASES).filter((name) => /^\d+[.]\d+[.]\d+$/.test(name));
const NEWEST = readMigrations().at(-1)?.version ?? 0;
const HOUR_MS = 3_600_000;
const newFolder = scratchFolders();

const aboutSchema = z.object({
  wallMs: z.number(),
  fullOnDay: z.number(),
  remembered: z
    .array(
      z.object({
        id: z.string(),
        latch: z.string(),
        day: z.number(),
        ranTodayMs: z.number(),
        usedTodayWh: z.number(),
        startsToday: z.number(),
        learnedW: z.array(z.number().nullable()),
      }),
    )
    .min(1),
});

function released(version: string) {
  const folder = join(RELEASES, version);
  const about = aboutSchema.parse(JSON.parse(readFileSync(join(folder, "about.json"), "utf8")));
  const path = join(folder, "site.yaml");
  return { folder, about, site: loadSite({ path, overrides: [] }) };
}

it("there are some", () => {
  expect(VERSIONS).toContain("0.1.0");
});

describe.each(VERSIONS)("%s", (version) => {
  it("its settings are accepted", () => {
    const { site } = released(version);
    expect(site.control.loads.length).toBeGreaterThan(0);
  });

  it("its memory keeps its meaning an hour later", () => {
    const { folder, about, site } = released(version);
    const saved = loadMemory(join(folder, "memory.json.br"));
    expect(saved).toMatchObject({ wallMs: about.wallMs, codeVersion: version });
    // What was kept of good times, or of none, is a whole record.
    expect(restoredTimes(saved?.times).days).toHaveLength(NO_TIMES.days.length);
    const memory = restoreMemory(saved?.body, site.control, {
      nowMs: 1_000,
      wallMs: about.wallMs + HOUR_MS,
      savedWallMs: about.wallMs,
      isWallClockPlausible: true,
    });
    expect(memory.battery.fullOnDay).toBe(about.fullOnDay);
    const known = memory.loads.map(({ draw, ...load }) => ({ ...load, learnedW: draw.learnedW }));
    expect(known).toMatchObject(about.remembered.map((load) => ({ ...load, stage: 0 })));
    // Every field that this version has is there, of the kind that it begins with.
    const blank = initialMemory(site.control, 0);
    expect(Object.keys(memory).sort()).toEqual(Object.keys(blank).sort());
    for (const [place, load] of memory.loads.entries()) {
      expect(Object.keys(load).sort()).toEqual(Object.keys(blank.loads[place] ?? {}).sort());
    }
  });

  it("its database is brought to this version, with a copy of what was before", () => {
    const { folder, about } = released(version);
    const scratch = newFolder();
    const path = join(scratch, "history.db");
    cpSync(join(folder, "history.db"), path);
    const countsOf = (file: string) =>
      ["sample", "event", "decision", "command", "memory", "settings", "day"].map((table) => [
        table,
        ...query(file, `SELECT count(*) FROM ${table}`).flat(),
      ]);
    const before = countsOf(path);
    const [[found = 0] = []] = query(path, "PRAGMA user_version");
    const store = createStore({
      path,
      migrations: readMigrations(),
      rowsMax: 10,
      say: (_level, message) => expect.fail(message),
    });
    store.add({ kind: "event", values: [about.wallMs, "site", "site", "raised", "soc-unknown"] });
    expect(store.commit({ wallMs: about.wallMs, monotonicMs: 0 }, false)).toBe(true);
    store.close();
    expect(query(path, "PRAGMA user_version")).toEqual([[NEWEST]]);
    expect(query(path, "PRAGMA integrity_check")).toEqual([["ok"]]);
    const after = countsOf(path);
    const events = Number(before[1]?.[1]);
    expect(after).toEqual(before.map((row) => (row[0] === "event" ? ["event", events + 1] : row)));
    const copies = readdirSync(scratch).filter((name) => /^history[.]db[.]before-/.test(name));
    expect(copies.length).toBe(NEWEST - Number(found));
    for (const copy of copies) expect(countsOf(join(scratch, copy))).toEqual(before);
  });

  it("its journal is read to the end", () => {
    const { folder } = released(version);
    const journal = join(folder, "journal");
    expect(existsSync(journal)).toBe(true);
    const entries = listSegments(journal).flatMap(({ path }) => [...readSegment(path)]);
    expect(entries[0]).toMatchObject({ kind: "start", start: { codeVersion: version } });
    const kinds = entries.map(({ kind }) => kind);
    expect(kinds).not.toContain("damage");
    const ticks = entries.flatMap((entry) => (entry.kind === "tick" ? [entry] : []));
    expect(ticks.length).toBeGreaterThan(400);
    const isRunning = ticks.filter(({ decided }) => decided.loadStages.some((stage) => stage > 0));
    expect(isRunning.length).toBeGreaterThan(100);
  });
});
