/** Every `bywash` command of the README, with the built program and a settings file of one's own. */
import { spawnSync } from "node:child_process";
import { cpSync, mkdtempSync, readFileSync, rmSync, symlinkSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { shellBlocks } from "../docs/shell-blocks.ts";
import { bywash, serveOnFreePorts } from "../support/command-line.ts";
import { freePort } from "../support/free-port.ts";

const README = readFileSync("README.md", "utf8");
const ASK_A_SERVICE = [
  "explain",
  "clear",
  "reload",
  "run",
  "hold",
  "release",
  "learned",
  "times",
  "alerts",
];
const END_WHEN_TOLD = ["serve", "demo"];
const NOT_SOURCE = ["node_modules", "dist", "coverage", ".git"];

/** Command lines in blocks and in the text, without the program's name, comments, redirections. */
const inBlocks = shellBlocks(README)
  .flatMap((block) => block.split("\n"))
  .filter((line) => line.startsWith("npx bywash "))
  .map((line) => line.replace("npx bywash ", "").replace(/\s+[#>].*$/u, ""));
const inText = [...README.matchAll(/`npx bywash ([^`]+)`/gu)].map((match) =>
  match[1]!.replaceAll("\n", " "),
);
const demos = [...README.matchAll(/npm run demo -- ([^`]+)`/gu)].map(
  (match) => `demo ${match[1]!.replaceAll("\n", " ")}`,
);
const lines = [...new Set([...inBlocks, ...inText])];

const nameOf = (line: string): string => line.split(" ")[0]!;
const asking = lines.filter((line) => ASK_A_SERVICE.includes(nameOf(line)));
const serving = lines.filter((line) => nameOf(line) === "serve");
/** They hear a broker, and end with 1 where none is. */
const listening = lines.filter((line) => line.includes(" --live"));
/** They look back on weeks that nothing has recorded here, and say so. */
const lookingBack = lines.filter((line) => nameOf(line) === "report");
const ending = lines.filter(
  (line) =>
    ![...ASK_A_SERVICE, ...END_WHEN_TOLD].includes(nameOf(line)) &&
    ![...listening, ...lookingBack].includes(line),
);

let folder = "";
let service: Awaited<ReturnType<typeof serveOnFreePorts>>;
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), "bywash-readme-"));
  cpSync("config/examples/malga.yaml", join(folder, "site.yaml"));
  service = await serveOnFreePorts(folder);
});
afterAll(async () => {
  service.process.kill("SIGTERM");
  await service.ended;
  rmSync(folder, { recursive: true });
});

describe("README", () => {
  it("has commands of every kind", () => {
    expect(ending.length).toBeGreaterThanOrEqual(3);
    expect(asking.length).toBeGreaterThanOrEqual(3);
    expect(serving.length).toBeGreaterThanOrEqual(2);
    expect(demos.length).toBeGreaterThanOrEqual(1);
    expect(listening).toHaveLength(1);
    expect(lookingBack).toHaveLength(1);
    const kinds = [ending, asking, serving, listening, lookingBack];
    expect(lines).toHaveLength(kinds.reduce((sum, { length }) => sum + length, 0));
  });

  it.each(ending)("bywash %s", async (line) => {
    const { code, stdout, stderr } = await bywash(line.split(/ +/u), { cwd: folder });
    expect({ code, stderr }).toEqual({ code: 0, stderr: "" });
    expect(stdout.length).toBeGreaterThan(100);
  });

  it.each(asking)("bywash %s, asked of a service", async (line) => {
    const args = [...line.split(/ +/u), "--url", service.url];
    const { code, stdout, stderr } = await bywash(args, { cwd: folder });
    if (nameOf(line) === "run") {
      // Nothing is measured in this folder, and no person's wish goes past that.
      expect({ code, stdout }).toEqual({ code: 1, stdout: "" });
      expect(stderr).toMatch(/^bywash: water-heater: off: /u);
      return;
    }
    expect({ code, stderr }).toEqual({ code: 0, stderr: "" });
    expect(stdout.length).toBeGreaterThan(20);
  });

  it.each(listening)("bywash %s, where no broker is", async (line) => {
    const nobody = ["--set", `broker.embedded.port=${await freePort()}`];
    const { code, stdout, stderr } = await bywash([...line.split(/ +/u), ...nobody], {
      cwd: folder,
    });
    expect(code).toBe(1);
    expect(stdout.length).toBeGreaterThan(100);
    expect(stderr).toContain("cannot be heard");
  });

  it.each(lookingBack)("bywash %s, where no week was recorded", async (line) => {
    const { code, stdout, stderr } = await bywash(line.split(/ +/u), { cwd: folder });
    expect({ code, stdout }).toEqual({ code: 2, stdout: "" });
    expect(stderr).toMatch(/\[(?:history|days)-missing\]/u);
  });

  it.each(serving)("bywash %s, until it is told to stop", async (line) => {
    const [, config, file, ...flags] = line.split(/ +/u);
    expect([config, file]).toEqual(["--config", "site.yaml"]);
    const running = await serveOnFreePorts(folder, ...flags);
    running.process.kill("SIGTERM");
    expect(await running.ended).toMatchObject({ code: 0, stderr: "" });
  });

  it.each(demos)("bywash %s, for an hour", async (line) => {
    const short = ["--for", "1 h", "--speed", "100000"];
    const { code, stdout, stderr } = await bywash([...line.split(/ +/u), ...short]);
    expect({ code, stderr }).toEqual({ code: 0, stderr: "" });
    expect(stdout).toContain("battery");
  });

  it("builds and shows the demo by `npm run demo`", () => {
    expect(shellBlocks(README)[0]).toContain("npm run demo");
    // In a tree of its own, without anything built: here other programs run out of dist/.
    const cwd = join(folder, "tree");
    cpSync(".", cwd, { recursive: true, filter: (path) => !NOT_SOURCE.includes(path) });
    symlinkSync(resolve("node_modules"), join(cwd, "node_modules"));
    const args = ["run", "demo", "--", "--for", "1 h", "--speed", "100000"];
    const { status, stdout, stderr } = spawnSync("npm", args, { cwd, encoding: "utf8" });
    expect({ status, stderr }).toEqual({ status: 0, stderr: "" });
    expect(stdout).toContain("1 day in a simulated shed");
    // It compiles the whole program first.
  });

  it("means this package by `npx bywash`", () => {
    // Offline: were it not found here, npx would look elsewhere.
    const env = { ...process.env, npm_config_offline: "true" };
    const found = spawnSync("npx", ["bywash", "--version"], { env, encoding: "utf8" });
    const { version } = JSON.parse(readFileSync("package.json", "utf8")) as { version: string };
    expect(found.stdout).toBe(`${version}\n`);
  });

  it("would notice a flag that does not exist", async () => {
    const wrong = ["check", "--config", "site.yaml", "--confgi"];
    expect(await bywash(wrong, { cwd: folder })).toMatchObject({ code: 2 });
  });
});
