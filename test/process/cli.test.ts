/** Commands that come to their end by themselves: exit codes, streams, texts. */
import { spawnSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { bywash, startBywash } from "../support/command-line.ts";
import type { Typed } from "../support/command-line.ts";

const EXAMPLE = readFileSync("config/examples/malga.yaml", "utf8");
const SITE = ["--config", "site.yaml"];
let folder = "";

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "bywash-cli-"));
  writeFileSync(join(folder, "site.yaml"), EXAMPLE);
});
afterAll(() => rmSync(folder, { recursive: true }));

const typed = (...args: readonly string[]): Promise<Typed> => bywash(args, { cwd: folder });

function longLines(text: string): readonly string[] {
  return text.split("\n").filter((line) => line.length > 80);
}

/** A user's mistake: exit code 2, said on standard error alone, within 80 columns. */
async function expectRefused(args: readonly string[], ...said: readonly string[]): Promise<void> {
  const { code, stdout, stderr } = await typed(...args);
  expect({ code, stdout }, stderr).toEqual({ code: 2, stdout: "" });
  for (const text of said) expect(stderr).toContain(text);
  expect(longLines(stderr)).toEqual([]);
  expect(stderr).not.toMatch(/^ +at |node:|ENOENT/mu);
}

describe("--help", () => {
  it("shows an example of every command, in 80 columns", async () => {
    const program = await typed("--help");
    expect(program).toMatchObject({ code: 0, stderr: "" });
    expect(longLines(program.stdout)).toEqual([]);
    const commands = program.stdout.slice(program.stdout.indexOf("Commands:"));
    const names = [...commands.matchAll(/^ {2}([a-z]+) /gmu)].map((match) => match[1]!);
    const own = names.filter((name) => name !== "help");
    expect(own.length).toBeGreaterThanOrEqual(7);
    for (const name of own) {
      const { code, stdout, stderr } = await typed(name, "--help");
      expect({ code, stderr }).toEqual({ code: 0, stderr: "" });
      expect(stdout).toMatch(new RegExp(`^Examples?:\\n {2}bywash ${name}`, "mu"));
      expect(longLines(stdout)).toEqual([]);
    }
  });

  it("is shown on standard error when nothing is asked for, with 2", async () => {
    const { code, stdout, stderr } = await typed();
    expect({ code, stdout }).toEqual({ code: 2, stdout: "" });
    expect(stderr).toContain("Usage: bywash");
  });

  it("has the version of the package", async () => {
    const { version } = JSON.parse(readFileSync("package.json", "utf8")) as { version: string };
    expect(await typed("--version")).toEqual({ code: 0, stdout: `${version}\n`, stderr: "" });
  });

  it("is pointed to when a command or a flag is mistyped", async () => {
    await expectRefused(["chekc"], "unknown command 'chekc'", "Did you mean check?");
    await expectRefused(["check"], "--config", "`bywash check --help`");
    await expectRefused(["check", ...SITE, "--jsno"], "Did you mean --json?");
    await expectRefused(["clear", "pump"], "--token-file", "`bywash clear --help`");
  });
});

describe("check", () => {
  it("says what it understood, on standard output", async () => {
    const { code, stdout, stderr } = await typed("check", ...SITE);
    expect({ code, stderr }).toEqual({ code: 0, stderr: "" });
    expect(stdout).toContain("malga");
    expect(longLines(stdout)).toEqual([]);
  });

  it("tells three mistakes at once, each with its place, and what to write instead", async () => {
    const mistakes = [
      { right: "floor: 60 %", wrong: "floor: 60", told: ["unit-missing", "60", "60 %"] },
      { right: "minRest: 12 min", wrong: "minRst: 12 min", told: ["unknown-key", "minRest?"] },
      { right: "priority: 1", wrong: "priority: first", told: ["wrong-type", "first", "number"] },
    ];
    const text = mistakes.reduce((made, { right, wrong }) => {
      expect(made.split(right)).toHaveLength(2);
      return made.replace(right, wrong);
    }, EXAMPLE);
    writeFileSync(join(folder, "three.yaml"), text);
    await expectRefused(["check", "--config", "three.yaml"]);
    const { stderr } = await typed("check", "--config", "three.yaml");
    const problems = stderr.trim().split("\n\n");
    expect(problems).toHaveLength(3);
    const lines = text.split("\n");
    for (const { wrong, told } of mistakes) {
      const line = lines.findIndex((one) => one.includes(wrong));
      const place = new RegExp(`^three\\.yaml:${line + 1}:(\\d+) {2}\\[${told[0]}\\]`, "u");
      const problem = problems.find((one) => place.test(one)) ?? `no problem at ${place.source}`;
      expect(problem).toMatch(/^ {2}key: +\S+\n {2}found: +\S.*\n {2}expected: \S/mu);
      for (const word of told) expect(problem).toContain(word);
      const column = Number(place.exec(problem)?.[1]);
      const [key = "", value = ""] = wrong.split(": ");
      const beginsAt = lines[line]!.slice(column - 1);
      expect(beginsAt.startsWith(key) || beginsAt.startsWith(value)).toBe(true);
    }
  });

  it("refuses what is no settings file", async () => {
    await expectRefused(["check", "-c", "none.yaml"], "none.yaml  [file-unreadable]", "no such");
    await expectRefused(["check", "-c", "."], "a folder");
    writeFileSync(join(folder, "latin.yaml"), Buffer.from([0x61, 0xe9, 0x0a]));
    await expectRefused(["check", "-c", "latin.yaml"], "[not-text]", "UTF-8");
    writeFileSync(join(folder, "open.yaml"), 'version: 1\nsite: { id: "malga\n');
    await expectRefused(["check", "-c", "open.yaml"], "open.yaml:");
  });

  it.each([
    ["nonsense", "path=value", "site.tick=5s"],
    ["loads.spring-pomp.priority=1", "did you mean spring-pump?", "spring-pomp"],
    ["loads.spring-pump.priority=", "found:    nothing", "a number"],
    ["battery.floor=0.5", "[unit-missing]", "50 %"],
    ["battery.flor=50 %", "did you mean floor?", "battery.flor"],
    ["battery.floor=99 %", "[target-under-floor]", "99 %"],
    ["site.timeZone=Europe/Roma", "Europe/Rome", "IANA"],
  ])("refuses --set %s", async (override, ...said) => {
    await expectRefused(["check", ...SITE, "--set", override], ...said);
  });

  it("prints the mistakes as one JSON object with --json, still with 2", async () => {
    const args = ["check", ...SITE, "--json", "--set", "site.tick=5"];
    const { code, stdout, stderr } = await typed(...args);
    expect({ code, stderr }).toEqual({ code: 2, stderr: "" });
    expect(JSON.parse(stdout)).toMatchObject({ ok: false, problems: [{ key: "site.tick" }] });
  });
});

describe("replay", () => {
  it.each([
    [["sample:brokn"], "did you mean sample:broken?"],
    [["none.csv"], "no such file"],
    [["site.yaml"], "site.yaml"],
    [["sample:broken", "--step", "7s"], "--step"],
    [["sample:broken", "--start-soc", "80"], "with its unit"],
    [["sample:broken", "--config", "none.yaml"], "none.yaml"],
    [["sample:broken", "sample:measured"], "[day-order]"],
    [[], "[day-missing]"],
    [["--journal", "2026-03-02"], "[flag-missing]"],
    [["--journal", "2026-03-02", ...SITE, "--events"], "with --events"],
    [["--journal", "2026-03-02", ...SITE, "sample:clear"], "with sample:clear"],
    [["--journal", "2026-03-02", ...SITE], "[journal-missing]"],
  ])("refuses %j", async (args, said) => {
    await expectRefused(["replay", ...args], said);
  });
});

describe("output", () => {
  it("of `schema` is one JSON Schema", async () => {
    const { code, stdout, stderr } = await typed("schema");
    expect({ code, stderr }).toEqual({ code: 0, stderr: "" });
    const schema = JSON.parse(stdout) as { properties: Record<string, unknown> };
    expect(Object.keys(schema.properties)).toEqual(
      expect.arrayContaining(["site", "broker", "battery", "loads"]),
    );
  });

  it("may be cut short by `head`", () => {
    const line = `"${process.execPath}" "${resolve("dist/service/main.js")}" schema | head -n 1`;
    const { stdout, stderr } = spawnSync("sh", ["-c", line], { encoding: "utf8" });
    expect({ stdout, stderr }).toEqual({ stdout: "{\n", stderr: "" });
  });

  it.each([["schema"], ["check", ...SITE], ["replay", "sample:clear", "--json"], ["--help"]])(
    "of `%s` may go to a reader that has left",
    async (...args) => {
      const running = startBywash(args, { cwd: folder });
      // Before the program has begun: its first write already fails.
      running.process.stdout?.destroy();
      expect(await running.ended).toEqual({ code: 0, stdout: "", stderr: "" });
    },
  );
});
