import { existsSync, mkdirSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { expect, it } from "vitest";
import { UserError } from "../../service/errors.ts";
import { backUp, restore } from "../../service/history/backup.ts";
import { readMigrations } from "../../service/history/migrate.ts";
import { DATABASE_FILE } from "../../service/history/scribe.ts";
import { createStore } from "../../service/history/store.ts";
import type { Store } from "../../service/history/store.ts";
import { execute, query, scratchFolders } from "./scratch.ts";

const newFolder = scratchFolders();
const NOW = { wallMs: Date.UTC(2026, 5, 15, 10), monotonicMs: 0 };

function open(folder: string): Store {
  const path = join(folder, DATABASE_FILE);
  return createStore({
    path,
    migrations: readMigrations(),
    rowsMax: 100,
    say: (_level, message) => expect.fail(message),
  });
}

function add(store: Store, number: number): void {
  store.add({ kind: "event", values: [number, "load", "spring-pump", "started", "running"] });
  expect(store.commit(NOW, false)).toBe(true);
}

const eventsIn = (path: string) => query(path, "SELECT at_ms FROM event ORDER BY id").flat();

/** The codes of what was wrong; fails if nothing was. */
function codesOf(work: () => unknown): string[] {
  try {
    work();
  } catch (error) {
    if (error instanceof UserError) return error.problems.map(({ code }) => code);
    throw error;
  }
  return expect.fail("nothing was wrong");
}

it("copies while the service writes, and only what is committed", () => {
  const folder = newFolder();
  const target = join(newFolder(), "copy.db");
  const store = open(folder);
  add(store, 1);
  backUp(folder, target);
  add(store, 2);
  expect(eventsIn(target)).toEqual([1]);
  backUp(folder, target);
  expect(eventsIn(target)).toEqual([1, 2]);
  add(store, 3);
  store.close();
  expect(eventsIn(join(folder, DATABASE_FILE))).toEqual([1, 2, 3]);
  expect(readdirSync(dirname(target))).toEqual(["copy.db"]);
});

it("restores a copy and keeps what was there", () => {
  const folder = newFolder();
  const target = join(newFolder(), "it's a copy.db");
  const store = open(folder);
  add(store, 1);
  backUp(folder, target);
  add(store, 2);
  store.close();
  const { path, previousPath } = restore({ folder, source: target, atMs: NOW.wallMs });
  expect(previousPath).toBe(`${path}.replaced-20260615T100000Z`);
  expect(eventsIn(path)).toEqual([1]);
  expect(eventsIn(previousPath!)).toEqual([1, 2]);
  expect(existsSync(target)).toBe(true);
  const again = open(folder);
  add(again, 5);
  again.close();
  expect(eventsIn(path)).toEqual([1, 5]);
  expect(restore({ folder, source: target, atMs: NOW.wallMs }).previousPath).toBe(
    `${path}.replaced-20260615T100000Z-2`,
  );
});

it("restores into a folder that is not there, and over a damaged history", () => {
  const folder = newFolder();
  const target = join(newFolder(), "copy.db");
  const store = open(folder);
  add(store, 1);
  store.close();
  backUp(folder, target);
  const empty = join(newFolder(), "new", "folder");
  const fresh = restore({ folder: empty, source: target, atMs: NOW.wallMs });
  expect(fresh.previousPath).toBeNull();
  expect(eventsIn(fresh.path)).toEqual([1]);
  writeFileSync(join(folder, DATABASE_FILE), "garbage ".repeat(1000));
  const { path, previousPath } = restore({ folder, source: target, atMs: NOW.wallMs });
  expect(eventsIn(path)).toEqual([1]);
  expect(readFileSync(previousPath!, "utf8")).toMatch(/^garbage/);
});

it("refuses to restore under a service that runs, and leaves all as it was", () => {
  const folder = newFolder();
  const target = join(newFolder(), "copy.db");
  const store = open(folder);
  add(store, 1);
  backUp(folder, target);
  add(store, 2);
  const work = () => restore({ folder, source: target, atMs: NOW.wallMs });
  expect(codesOf(work)).toEqual(["history-in-use"]);
  add(store, 3);
  store.close();
  expect(eventsIn(join(folder, DATABASE_FILE))).toEqual([1, 2, 3]);
  expect(readdirSync(folder)).toEqual([DATABASE_FILE]);
});

it("refuses what is missing, damaged, foreign, newer, or the history itself", () => {
  const folder = newFolder();
  const elsewhere = newFolder();
  const atMs = NOW.wallMs;
  const path = join(folder, DATABASE_FILE);
  const target = join(elsewhere, "copy.db");
  expect(codesOf(() => backUp(folder, target))).toEqual(["history-missing"]);
  const store = open(folder);
  add(store, 1);
  store.close();
  expect(codesOf(() => backUp(folder, path))).toEqual(["history-itself"]);
  expect(codesOf(() => backUp(folder, `${path}-wal`))).toEqual(["history-itself"]);
  expect(codesOf(() => backUp(folder, join(elsewhere, "no", "copy.db")))).toEqual([
    "folder-missing",
  ]);
  expect(codesOf(() => restore({ folder, source: path, atMs }))).toEqual(["history-itself"]);
  expect(codesOf(() => restore({ folder, source: target, atMs }))).toEqual(["backup-missing"]);
  writeFileSync(target, "garbage ".repeat(1000));
  expect(codesOf(() => restore({ folder, source: target, atMs }))).toEqual(["database-unsound"]);
  const empty = join(elsewhere, "empty.db");
  writeFileSync(empty, "");
  expect(codesOf(() => restore({ folder, source: empty, atMs }))).toEqual(["backup-version"]);
  const foreign = join(elsewhere, "foreign.db");
  execute(foreign, "PRAGMA user_version = 1; CREATE TABLE goats (name TEXT)");
  expect(codesOf(() => restore({ folder, source: foreign, atMs }))).toEqual(["database-unsound"]);
  const newer = join(elsewhere, "newer.db");
  backUp(folder, newer);
  execute(newer, "PRAGMA user_version = 99");
  expect(codesOf(() => restore({ folder, source: newer, atMs }))).toEqual(["backup-version"]);
  expect(eventsIn(path)).toEqual([1]);
  writeFileSync(path, "garbage ".repeat(1000));
  expect(codesOf(() => backUp(folder, target))).toEqual(["database-unsound"]);
});

it("leaves no half copy behind when the target cannot be written", () => {
  const folder = newFolder();
  const store = open(folder);
  add(store, 1);
  store.close();
  const elsewhere = newFolder();
  mkdirSync(join(elsewhere, "copy.db"));
  writeFileSync(join(elsewhere, "copy.db", "something"), "");
  expect(() => backUp(folder, join(elsewhere, "copy.db"))).toThrow();
  expect(readdirSync(elsewhere)).toEqual(["copy.db"]);
});
