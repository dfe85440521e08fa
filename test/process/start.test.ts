/** What a command loads before it does its work: a small computer pays for every module. */
import { spawnSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, expect, test } from "vitest";

let folder = "";
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "bywash-start-"));
});
afterAll(() => rmSync(folder, { recursive: true }));

interface Loaded {
  readonly code: number | null;
  /** Of npm, each once. */
  readonly packages: readonly string[];
  /** Our own files under `dist/`. */
  readonly own: readonly string[];
}

function loadedBy(...args: readonly string[]): Loaded {
  const noted = join(folder, "modules");
  rmSync(noted, { force: true });
  const { status: code, stderr } = spawnSync(
    process.execPath,
    ["--import", "./test/support/note-modules.mjs", "dist/service/main.js", ...args],
    { encoding: "utf8", env: { ...process.env, NOTED_MODULES: noted } },
  );
  const urls = readFileSync(noted, "utf8").trim().split("\n");
  const packages = urls.flatMap(
    (url) => /.*\/node_modules\/((?:@[^/]+\/)?[^/]+)/u.exec(url)?.[1] ?? [],
  );
  const own = urls.flatMap(
    (url) => /\/dist\/((?:service|config|simulator)\/.*)$/u.exec(url)?.[1] ?? [],
  );
  expect(own, stderr).toContain("service/main.js");
  return { code, packages: [...new Set(packages)].sort(), own };
}

test.each([
  ["--help"],
  ["--version"],
  ["serve", "--help"],
  ["run", "--help"],
  ["replay", "--help"],
])("what only explains itself needs one package: %s %s", (...args) => {
  const { code, packages, own } = loadedBy(...args);
  expect({ code, packages }).toEqual({ code: 0, packages: ["commander"] });
  const rooms = own.filter((file) => !/^service\/(?:main|errors|hanging-text|cli\/)/u.test(file));
  expect(rooms).toEqual([]);
});

test.each([["explain"], ["times"], ["learned"]])(
  "whoever only asks a running service needs one package: %s",
  (command) => {
    const { code, packages } = loadedBy(command, "--url", "http://127.0.0.1:1");
    expect({ code, packages }).toEqual({ code: 1, packages: ["commander"] });
  },
);

test("a check of the settings reads YAML and schemas, and nothing else", () => {
  const { code, packages, own } = loadedBy("check", "--config", "config/examples/malga.yaml");
  expect({ code, packages }).toEqual({ code: 0, packages: ["commander", "yaml", "zod"] });
  const rooms = own.filter(
    (file) => !/^(?:config|service\/(?:main|cli\/|[a-z-]+\.js))/u.test(file),
  );
  expect(rooms.filter((file) => !file.startsWith("service/control/guidance/"))).toEqual([]);
});
