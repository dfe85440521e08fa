import { execFileSync, spawnSync } from "node:child_process";
import { existsSync, mkdirSync, readdirSync, readFileSync, renameSync, rmSync } from "node:fs";
import { statSync, truncateSync, unlinkSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { expect, it } from "vitest";
import { holds } from "../../service/history/connection.ts";
import { readMigrations } from "../../service/history/migrate.ts";
import type { Migration } from "../../service/history/migrate.ts";
import type { Row } from "../../service/history/rows.ts";
import { createStore } from "../../service/history/store.ts";
import type { Instant, Store } from "../../service/history/store.ts";
import { execute, query, scratchFolders } from "./scratch.ts";

const newFolder = scratchFolders();
const MINUTE_MS = 60_000;
const WALL_MS = Date.UTC(2026, 5, 15, 10);

interface Bench {
  readonly folder: string;
  readonly path: string;
  readonly store: Store;
  readonly said: string[];
}

function at(minute: number): Instant {
  return { wallMs: WALL_MS + minute * MINUTE_MS, monotonicMs: minute * MINUTE_MS };
}

function open(
  over: { folder?: string; rowsMax?: number; migrations?: readonly Migration[] } = {},
): Bench {
  const folder = over.folder ?? newFolder();
  const path = join(folder, "history.db");
  const said: string[] = [];
  const store = createStore({
    path,
    migrations: over.migrations ?? readMigrations(),
    rowsMax: over.rowsMax ?? 1_000,
    say: (level, message) => said.push(`${level} ${message}`),
  });
  return { folder, path, store, said };
}

/** A kilobyte each, so that a disk fills up. */
function event(number: number, padding = 0): Row {
  const code = `${number}${"x".repeat(padding)}`;
  return { kind: "event", values: [number, "load", "spring-pump", "started", code] };
}

function eventsIn(path: string): unknown[] {
  return query(path, "SELECT at_ms FROM event ORDER BY id").map(([number]) => number);
}

function integrityOf(path: string): unknown {
  return query(path, "PRAGMA integrity_check");
}

const CANNOT = "warn the history cannot be written; control goes on";
const AGAIN = "info the history is written again";
const DAMAGED = "warn the history was damaged: it is set aside, and a new one begins";

it("writes all rows of a commit in one transaction, with the pragmas that it promises", () => {
  const { path, store, said } = open();
  for (let number = 0; number < 10; number += 1) store.add(event(number));
  expect(store.commit(at(0), true)).toBe(true);
  expect(eventsIn(path)).toEqual([0, 1, 2, 3, 4, 5, 6, 7, 8, 9]);
  const held = ["journal_mode = 'wal'", "synchronous = 1", "auto_vacuum = 2"].map((pragma) => {
    const [name] = pragma.split(" ");
    const condition = `(SELECT ${name} FROM pragma_${name}) = ${pragma.split(" = ")[1]}`;
    return store.use(at(0), (connection) => holds(connection, condition));
  });
  expect(held).toEqual([true, true, true]);
  store.close();
  expect(said).toEqual([]);
});

const DAMAGES: [string, (path: string) => void][] = [
  ["garbage", (path) => writeFileSync(path, "no database at all ".repeat(1000))],
  ["a truncated file", (path) => truncateSync(path, Math.floor(statSync(path).size / 2))],
  [
    "pages of zeros",
    (path) => {
      const bytes = readFileSync(path);
      bytes.fill(0, 4096, 4096 * 20);
      writeFileSync(path, bytes);
    },
  ],
  [
    "another program's database",
    (path) => {
      unlinkSync(path);
      execute(path, "PRAGMA user_version = 7; PRAGMA application_id = 99");
    },
  ],
];

it.each(DAMAGES)("sets %s aside, says so, deletes nothing and begins anew", (_name, damage) => {
  const { folder, path, store } = open();
  for (let number = 0; number < 100; number += 1) store.add(event(number, 1000));
  store.commit(at(0), true);
  store.close();
  damage(path);
  const damaged = readFileSync(path);
  const again = open({ folder });
  again.store.add(event(1));
  expect(again.store.commit(at(1), true)).toBe(true);
  again.store.close();
  expect(again.said).toEqual([DAMAGED]);
  const kept = readdirSync(folder).filter((name) => name.includes(".damaged-"));
  expect(kept[0]).toBe("history.db.damaged-20260615T100100Z");
  expect(readFileSync(join(folder, kept[0]!))).toEqual(damaged);
  expect(eventsIn(path)).toEqual([1]);
});

it("sets a database aside that is damaged while it is written", () => {
  const { folder, path, store, said } = open();
  for (let number = 0; number < 300; number += 1) store.add(event(number, 1000));
  store.commit(at(0), true);
  store.use(at(0), (connection) => connection.exec("PRAGMA wal_checkpoint(TRUNCATE)"));
  const bytes = readFileSync(path);
  bytes.fill(0xff, 0);
  writeFileSync(path, bytes);
  // Its cache may serve it for a while; what counts is that it comes back by itself.
  for (let minute = 1; minute <= 5; minute += 1) {
    store.add(event(1000 + minute));
    store.commit(at(minute), true);
    store.use(at(minute), (connection) => connection.exec("PRAGMA wal_checkpoint(TRUNCATE)"));
  }
  store.close();
  expect(said.filter((line) => line === CANNOT).length).toBeLessThanOrEqual(1);
  const again = open({ folder });
  again.store.add(event(2000));
  expect(again.store.commit(at(6), true)).toBe(true);
  again.store.close();
  expect([...said, ...again.said].filter((line) => line === DAMAGED)).toHaveLength(1);
  expect(integrityOf(path)).toEqual([["ok"]]);
});

it("goes on from the last checkpoint if the WAL is lost", () => {
  const { folder, path, store } = open();
  store.add(event(1));
  store.commit(at(0), true);
  store.use(at(0), (connection) => connection.exec("PRAGMA wal_checkpoint(TRUNCATE)"));
  store.add(event(2));
  store.commit(at(1), true);
  // As after a power cut: the file without its WAL.
  const copy = join(folder, "copy");
  mkdirSync(copy);
  writeFileSync(join(copy, "history.db"), readFileSync(path));
  store.close();
  const again = open({ folder: copy });
  again.store.add(event(3));
  expect(again.store.commit(at(2), true)).toBe(true);
  again.store.close();
  expect(again.said).toEqual([]);
  expect(eventsIn(again.path)).toEqual([1, 3]);
  expect(integrityOf(again.path)).toEqual([["ok"]]);
});

/** Fails until `heal`, and must then go on by itself. */
function expectRecovery(bench: Bench, heal: () => void): void {
  const { path, store, said } = bench;
  const before = store.droppedCount();
  for (let minute = 10; minute < 40; minute += 1) {
    store.add(event(minute));
    expect(store.commit(at(minute), true)).toBe(false);
  }
  expect(store.isWriting()).toBe(false);
  expect(said.filter((line) => line === CANNOT)).toHaveLength(1);
  heal();
  store.add(event(40));
  // It waits for its time, and a person who asks does not.
  expect(store.commit({ wallMs: 0, monotonicMs: 39.5 * MINUTE_MS }, true)).toBe(false);
  expect(store.commit(at(40), true)).toBe(true);
  expect(said.filter((line) => line === AGAIN)).toHaveLength(1);
  expect(store.isWriting()).toBe(true);
  store.add(event(41));
  expect(store.commit(at(41), true)).toBe(true);
  store.close();
  expect(store.droppedCount()).toBe(before);
  const expected = Array.from({ length: 32 }, (_, index) => index + 10);
  expect(eventsIn(path).slice(-32)).toEqual(expected);
  const gaps = query(path, "SELECT from_ms, to_ms, reason FROM gap");
  expect(gaps).toEqual([[expect.any(Number), at(40).wallMs, "not writable"]]);
  expect(integrityOf(path)).toEqual([["ok"]]);
}

it("outlives a database that may not grow, and resumes by itself", () => {
  const bench = open();
  const { store, path } = bench;
  const limit = (pages: number) =>
    store.use(at(0), (connection) => connection.exec(`PRAGMA max_page_count = ${pages}`));
  store.add(event(0));
  store.commit(at(0), true);
  limit(1);
  // Too large for what is free in the pages that there are.
  store.add(event(1, 100_000));
  expect(store.commit(at(1), true)).toBe(false);
  store.add(event(2));
  expect(store.commit(at(2), true)).toBe(false);
  expect(bench.said).toEqual([CANNOT]);
  // The connection is the same: a full disk is no reason to give it up.
  expect(store.commit({ ...at(2), monotonicMs: 2.5 * MINUTE_MS }, true)).toBe(false);
  store.use(at(4), (connection) => connection.exec("PRAGMA max_page_count = 100000"));
  expect(store.commit(at(5), true)).toBe(true);
  expect(bench.said).toEqual([CANNOT, AGAIN]);
  store.close();
  expect(eventsIn(path)).toEqual([0, 1, 2]);
});

it("outlives a full disk, and resumes by itself", (context) => {
  const folder = newFolder();
  try {
    execFileSync("mount", ["-t", "tmpfs", "-o", "size=512k", "tmpfs", folder], { stdio: "pipe" });
  } catch {
    context.skip("no small disk can be mounted here; the test above limits the pages instead");
  }
  try {
    const bench = open({ folder });
    bench.store.add(event(0));
    expect(bench.store.commit(at(0), true)).toBe(true);
    const ballast = join(folder, "ballast");
    const dd = spawnSync("dd", ["if=/dev/zero", `of=${ballast}`, "bs=1k"]);
    expect(String(dd.stderr)).toContain("No space left");
    // What is left of the WAL's last page takes a few rows more.
    let minute = 1;
    do {
      bench.store.add(event(minute, 1000));
      minute += 1;
    } while (bench.store.commit(at(minute), true));
    expect(bench.said).toEqual([CANNOT]);
    expectRecovery(bench, () => rmSync(ballast));
  } finally {
    execFileSync("umount", [folder]);
  }
});

it("outlives a disk that was mounted for reading only, and resumes by itself", (context) => {
  const folder = newFolder();
  try {
    execFileSync("mount", ["-t", "tmpfs", "-o", "size=8m,ro", "tmpfs", folder], { stdio: "pipe" });
  } catch {
    context.skip("no disk can be mounted here; the test below takes the folder away instead");
  }
  try {
    const bench = open({ folder });
    bench.store.add(event(0));
    expect(bench.store.commit(at(0), true)).toBe(false);
    expect(bench.said).toEqual([CANNOT]);
    expectRecovery(bench, () => execFileSync("mount", ["-o", "remount,rw", folder]));
  } finally {
    execFileSync("umount", [folder]);
  }
});

it("outlives a folder that cannot be written, and resumes by itself", () => {
  const parent = newFolder();
  const folder = join(parent, "history");
  // Even root cannot make a folder where a file is.
  writeFileSync(folder, "");
  const bench = open({ folder });
  expectRecovery(bench, () => rmSync(folder));
});

it("begins a new file if somebody takes the old one away", () => {
  const { folder, path, store, said } = open();
  store.add(event(1));
  store.commit(at(0), true);
  renameSync(path, join(folder, "taken"));
  store.add(event(2));
  expect(store.commit(at(1), true)).toBe(true);
  store.close();
  expect(eventsIn(path)).toEqual([2]);
  expect(said).toEqual([]);
});

it("keeps no more rows than its limit, drops the oldest and counts them", () => {
  const folder = join(newFolder(), "history");
  writeFileSync(folder, "");
  const { path, store } = open({ folder, rowsMax: 10 });
  expect(store.commit(at(0), true)).toBe(false);
  for (let number = 0; number < 25; number += 1) store.add(event(number));
  expect(store.droppedCount()).toBe(15);
  rmSync(folder);
  expect(store.commit(at(2), true)).toBe(true);
  store.add(event(25));
  store.commit(at(3), true);
  store.close();
  expect(eventsIn(path)).toEqual(Array.from({ length: 11 }, (_, index) => index + 15));
  expect(query(path, "SELECT dropped FROM gap")).toEqual([[15]]);
});

it("does not let a row that is refused for ever hold up the others", () => {
  const { path, store, said } = open();
  store.add(event(1));
  store.commit(at(0), true);
  store.add({ kind: "event", values: [2, null, null, null, null] });
  expect(store.commit(at(1), true)).toBe(false);
  expect(store.droppedCount()).toBe(1);
  store.add(event(3));
  expect(store.commit(at(2), true)).toBe(true);
  store.close();
  expect(eventsIn(path)).toEqual([1, 3]);
  expect(said).toEqual([CANNOT, AGAIN]);
});

const NEWEST = readMigrations().at(-1)?.version ?? 0;
const NEXT: Migration = { version: NEWEST + 1, sql: "ALTER TABLE event ADD COLUMN note TEXT" };

it("migrates forward with a copy of what was before", () => {
  const { folder, path, store } = open();
  store.add(event(1));
  store.commit(at(0), true);
  store.close();
  const next = open({ folder, migrations: [...readMigrations(), NEXT] });
  next.store.add(event(2));
  expect(next.store.commit(at(1), true)).toBe(true);
  next.store.close();
  expect(query(path, "SELECT at_ms, note FROM event")).toEqual([
    [1, null],
    [2, null],
  ]);
  const copy = join(folder, `history.db.before-${NEWEST + 1}-20260615T100100Z`);
  expect(query(copy, "SELECT at_ms FROM event")).toEqual([[1]]);
  expect(query(copy, "PRAGMA user_version")).toEqual([[NEWEST]]);
  expect(query(path, "PRAGMA user_version")).toEqual([[NEWEST + 1]]);
});

it("leaves a database as it was if a migration fails, and one of a newer program alone", () => {
  const { folder, path, store } = open();
  store.add(event(1));
  store.commit(at(0), true);
  store.close();
  const sql = `${NEXT.sql}; ALTER TABLE nothing ADD COLUMN note TEXT`;
  const broken = { version: NEXT.version, sql };
  const failing = open({ folder, migrations: [...readMigrations(), broken] });
  expect(failing.store.commit(at(1), true)).toBe(false);
  failing.store.close();
  expect(query(path, "PRAGMA user_version")).toEqual([[NEWEST]]);
  expect(query(path, "SELECT count(*) FROM pragma_table_info('event')")).toEqual([[6]]);
  execute(path, "PRAGMA user_version = 9");
  const older = open({ folder });
  older.store.add(event(2));
  expect(older.store.commit(at(1), true)).toBe(false);
  older.store.close();
  expect(older.said).toEqual([CANNOT]);
  expect(eventsIn(path)).toEqual([1]);
  expect(existsSync(`${path}.damaged-20260615T100100Z`)).toBe(false);
});
