/** `backup` and `restore` as a person types them. */
import { cpSync, existsSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, expect, test } from "vitest";
import { readMigrations } from "../../service/history/migrate.ts";
import { createStore } from "../../service/history/store.ts";
import { bywash } from "../support/command-line.ts";
import { query } from "../history/scratch.ts";

let folder = "";
let database = "";
const typed = (...args: readonly string[]) => bywash(args, { cwd: folder });

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "bywash-backup-"));
  cpSync("config/examples/malga.yaml", join(folder, "site.yaml"));
  database = join(folder, "malga.history", "history.db");
});
afterAll(() => rmSync(folder, { recursive: true }));

function add(number: number): void {
  const say = (_level: string, message: string) => expect.fail(message);
  const store = createStore({ path: database, migrations: readMigrations(), rowsMax: 9, say });
  store.add({ kind: "event", values: [number, "site", "site", "raised", "dark"] });
  expect(store.commit({ wallMs: 0, monotonicMs: 0 }, false)).toBe(true);
  store.close();
}

const config = ["--config", "site.yaml"];

test("a history comes back as it was, and the newer one is kept", async () => {
  const early = await typed("backup", ...config, "--out", "copy.db");
  expect(early).toMatchObject({ code: 2, stdout: "" });
  expect(early.stderr).toContain("[history-missing]");
  add(1);
  expect(await typed("backup", ...config, "--out", "copy.db")).toEqual({
    code: 0,
    stdout: "copied and checked: copy.db\n",
    stderr: "",
  });
  add(2);
  const restored = await typed("restore", ...config, "--from", "copy.db");
  expect(restored).toMatchObject({ code: 0, stderr: "" });
  expect(query(database, "SELECT at_ms FROM event")).toEqual([[1]]);
  const kept = /^kept: (.*)$/mu.exec(restored.stdout)?.[1] ?? "";
  expect(query(kept, "SELECT at_ms FROM event ORDER BY id")).toEqual([[1], [2]]);
});

test("a history that is not beside the settings is named, to be copied, exported and put back", async () => {
  const elsewhere = ["--set", `history.folder=${join(folder, "elsewhere")}`];
  const missing = await typed("export", ...config, ...elsewhere, "--out", "days.csv");
  expect(missing.code).toBe(2);
  expect(missing.stderr).toContain(join(folder, "elsewhere", "history.db"));
  cpSync(join(folder, "malga.history"), join(folder, "elsewhere"), { recursive: true });
  const there = join(folder, "elsewhere", "history.db");
  const copied = await typed("backup", ...config, ...elsewhere, "--out", "there.db");
  expect(copied).toMatchObject({ code: 0, stderr: "" });
  expect(query(join(folder, "there.db"), "SELECT at_ms FROM event")).toEqual([[1]]);
  const before = query(database, "SELECT id FROM event");
  const restored = await typed("restore", ...config, ...elsewhere, "--from", "there.db");
  expect(restored.stdout).toContain(`restored: ${there}\n`);
  expect(query(database, "SELECT id FROM event")).toEqual(before);
});

test("a damaged copy is refused, and the history stays", async () => {
  writeFileSync(join(folder, "bad.db"), "garbage ".repeat(1000));
  const refused = await typed("restore", ...config, "--from", "bad.db");
  expect(refused).toMatchObject({ code: 2, stdout: "" });
  expect(refused.stderr).toMatch(/^bad\.db {2}\[database-unsound\]\n/u);
  expect(existsSync(database)).toBe(true);
});
