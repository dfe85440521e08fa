/** Every `bywash` command of the README, with the built program and a settings file of one's own. */
import { spawnSync } from "node:child_process";
import { cpSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { shellBlocks } from "../docs/shell-blocks.ts";

const PROGRAM = resolve("dist/service/main.js");
const README = readFileSync("README.md", "utf8");

/** These run until they are told to stop, or ask one that runs: only their words are checked. */
const NEED_A_DAEMON = ["serve", "explain", "clear", "demo"];

/** Command lines without the program's name, comments and redirections. */
const commands = shellBlocks(README)
  .flatMap((block) => block.split("\n"))
  .filter((line) => line.startsWith("npx bywash "))
  .map((line) => line.replace("npx bywash ", "").replace(/\s+[#>].*$/u, ""));
const inText = [...README.matchAll(/npm run demo -- ([^`]+)`/gu)].map(
  (match) => `demo ${match[1]!.replaceAll("\n", " ")}`,
);
const all = [...commands, ...inText].map((line) => line.split(/ +/u));
const ends = all.filter(([name]) => !NEED_A_DAEMON.includes(name!));
const waits = all.filter(([name]) => NEED_A_DAEMON.includes(name!));

let folder = "";
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "bywash-readme-"));
  cpSync("config/examples/malga.yaml", join(folder, "site.yaml"));
});
afterAll(() => rmSync(folder, { recursive: true }));

function bywash(args: readonly string[]) {
  return spawnSync(process.execPath, [PROGRAM, ...args], { cwd: folder, encoding: "utf8" });
}

describe("README", () => {
  it("has commands of both kinds", () => {
    expect(ends.length).toBeGreaterThanOrEqual(3);
    expect(waits.length).toBeGreaterThanOrEqual(4);
  });

  it.each(ends.map((args) => args.join(" ")))("bywash %s", (line) => {
    const { status, stdout, stderr } = bywash(line.split(" "));
    expect(stderr).toBe("");
    expect(status).toBe(0);
    expect(stdout.length).toBeGreaterThan(100);
  });

  it.each(waits.map((args) => args.join(" ")))("bywash %s is understood", (line) => {
    const [name, ...rest] = line.split(" ");
    const { status, stdout } = bywash([name!, "--help"]);
    expect(status).toBe(0);
    const usage = stdout.split("\n")[0]!;
    expect(usage).toContain(`bywash ${name}`);
    const flags = rest.filter((word) => word.startsWith("--"));
    for (const flag of flags) expect(stdout).toMatch(new RegExp(`${flag}\\b`, "u"));
    if (name !== "serve" && name !== "demo" && rest.length > 0)
      expect(usage).toMatch(/[<[]\w+[\]>]/u);
  });

  it("would notice a flag that does not exist", () => {
    expect(bywash(["check", "--confgi", "site.yaml"]).status).toBe(2);
  });
});
