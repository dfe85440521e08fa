/** `explain` and `clear`: asked of a running service, and of none. */
import { cpSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, expect, test } from "vitest";
import { bywash, serveOnFreePorts } from "../support/command-line.ts";
import type { Typed } from "../support/command-line.ts";
import { freePort } from "../support/free-port.ts";

let folder = "";
let service: Awaited<ReturnType<typeof serveOnFreePorts>>;

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), "bywash-cli-"));
  cpSync("config/examples/malga.yaml", join(folder, "site.yaml"));
  service = await serveOnFreePorts(folder);
});
afterAll(async () => {
  service.process.kill("SIGTERM");
  expect((await service.ended).code).toBe(0);
  rmSync(folder, { recursive: true });
});

const typed = (...args: readonly string[]): Promise<Typed> => bywash(args, { cwd: folder });
const asked = (...args: readonly string[]): Promise<Typed> => typed(...args, "--url", service.url);

test("explain tells of every load and panel in 80 columns", async () => {
  const { code, stdout, stderr } = await asked("explain");
  expect({ code, stderr }).toEqual({ code: 0, stderr: "" });
  for (const label of [
    "Water heater",
    "Pump from the spring",
    "Compressor of the whey",
    "surplus",
  ]) {
    expect(stdout).toMatch(new RegExp(`^${label}.*: \\S`, "mu"));
  }
  expect(stdout.split("\n").filter((line) => line.length > 80)).toEqual([]);
});

test("explain tells of one load, as a sentence or as JSON", async () => {
  const one = await asked("explain", "spring-pump");
  expect(one).toMatchObject({ code: 0, stderr: "" });
  expect(one.stdout).toContain("Pump from the spring to the cistern: off: ");
  expect(one.stdout).not.toContain("Water heater");
  const json = await asked("explain", "spring-pump", "--json");
  expect(JSON.parse(json.stdout)).toMatchObject({ id: "spring-pump", stage: 0 });
});

test("an id that the site does not have is a user's mistake", async () => {
  const explained = await asked("explain", "pomp");
  expect(explained).toMatchObject({ code: 2, stdout: "" });
  expect(explained.stderr).toMatch(/pomp {2}\[unknown-id\]\n[^]*spring-pump/u);
  const cleared = await asked("clear", "pomp", "--token-file", "malga.token");
  expect(cleared).toMatchObject({ code: 2, stdout: "" });
  expect(cleared.stderr).toContain("[unknown-id]");
});

test("clear needs the service's own token", async () => {
  const done = await asked("clear", "spring-pump", "--token-file", "malga.token");
  expect(done).toMatchObject({ code: 0, stderr: "" });
  expect(done.stdout).toContain("spring-pump");
  expect(await asked("clear", "surplus", "--token-file", "malga.token")).toMatchObject({ code: 0 });
  writeFileSync(join(folder, "other.token"), "another-token-another-token");
  const refused = await asked("clear", "spring-pump", "--token-file", "other.token");
  expect(refused).toMatchObject({ code: 2, stdout: "" });
  expect(refused.stderr).toContain("other.token  [token-refused]");
  const missing = await asked("clear", "spring-pump", "--token-file", "none.token");
  expect(missing).toMatchObject({ code: 2, stdout: "" });
  expect(missing.stderr).toMatch(/none\.token[^]*no such file[^]*bywash serve/u);
});

test("run, hold and release are asked of the service, which says what comes of it", async () => {
  const token = ["--token-file", "malga.token"];
  const held = await asked("hold", "spring-pump", "--for", "2", "h", ...token);
  expect(held).toMatchObject({ code: 0, stderr: "" });
  // Nothing is measured at this site: what holds it off comes before what was asked.
  expect(held.stdout.replace(/\s+/gu, " ")).toMatch(/; held off until \S+ besides $/u);
  expect(held.stdout).toMatch(/^spring-pump: off: /u);
  const json = await asked("hold", "spring-pump", "--for", "30min", "--json", ...token);
  expect(JSON.parse(json.stdout)).toMatchObject({
    id: "spring-pump",
    asked: { wants: "hold", remainingS: 1_800 },
  });
  const released = await asked("release", "spring-pump", "--json", ...token);
  expect(JSON.parse(released.stdout)).toMatchObject({ id: "spring-pump", asked: null });
  const refused = await asked("run", "spring-pump", ...token);
  expect(refused).toMatchObject({ code: 1, stdout: "" });
  expect(refused.stderr).toMatch(/spring-pump: off: /u);
});

test("run refuses what it cannot understand, with 2", async () => {
  const token = ["--token-file", "malga.token"];
  for (const time of ["soon", "13 h", "0 s", "30"]) {
    const wrong = await asked("run", "spring-pump", ...token, "--for", time);
    expect(wrong).toMatchObject({ code: 2, stdout: "" });
    expect(wrong.stderr).toMatch(/^--for {2}\[flag-value\]/u);
  }
  const unknown = await asked("run", "pomp", ...token);
  expect(unknown).toMatchObject({ code: 2, stdout: "" });
  expect(unknown.stderr).toContain("pomp  [unknown-id]");
});

test("times tells why there is no advice, as text and as JSON", async () => {
  const told = await asked("times");
  expect(told).toMatchObject({ code: 0, stderr: "" });
  expect(told.stdout).toContain("No advice: telemetry that it needs is missing or old.");
  const json = await asked("times", "--json");
  expect(JSON.parse(json.stdout)).toMatchObject({
    formatVersion: 1,
    refusal: { code: "site-held" },
    appliances: [],
  });
  const wrong = await typed("times", "--url", "shed");
  expect(wrong).toMatchObject({ code: 2, stdout: "" });
  expect(wrong.stderr).toContain("--url  [flag-value]");
});

test("learned tells what is known in 80 columns, and forgets on request", async () => {
  const told = await asked("learned");
  expect(told).toMatchObject({ code: 0, stderr: "" });
  expect(told.stdout).toContain(
    "Array roof: 100 % where the sun was not seen yet, of one that looks",
  );
  expect(told.stdout).toContain("spring-pump: not seen (rated 750 W)");
  expect(told.stdout.split("\n").filter((line) => line.length > 80)).toEqual([]);
  const json = await asked("learned", "--json");
  expect(JSON.parse(json.stdout)).toMatchObject({ formatVersion: 1, site: { id: "malga" } });
  const token = ["--token-file", "malga.token"];
  const done = await asked("learned", "--reset", "array.roof", ...token);
  expect(done).toMatchObject({ code: 0, stderr: "" });
  expect(done.stdout).toBe("array.roof: forgotten at the next tick\n");
  const unknown = await asked("learned", "--reset", "array.barn", ...token);
  expect(unknown).toMatchObject({ code: 2, stdout: "" });
  expect(unknown.stderr).toMatch(/--reset {2}\[unknown-id\]\n[^]*array\.barn/u);
  const noToken = await asked("learned", "--reset", "base");
  expect(noToken).toMatchObject({ code: 2, stdout: "" });
  expect(noToken.stderr).toContain("--token-file");
});

test("with nothing running both fail with 1 and say what to start", async () => {
  const url = `http://127.0.0.1:${await freePort()}`;
  for (const args of [
    ["explain"],
    ["learned"],
    ["times"],
    ["clear", "spring-pump", "--token-file", "malga.token"],
  ]) {
    const { code, stdout, stderr } = await typed(...args, "--url", url);
    expect({ code, stdout }).toEqual({ code: 1, stdout: "" });
    expect(stderr).toContain(`no service answers at ${url}`);
    expect(stderr).toContain("`bywash serve`");
  }
});

test.each(["nonsense", "mqtt://127.0.0.1:1883"])("--url %s is a user's mistake", async (url) => {
  for (const args of [["explain"], ["clear", "spring-pump", "--token-file", "malga.token"]]) {
    const { code, stdout, stderr } = await typed(...args, "--url", url);
    expect({ code, stdout }).toEqual({ code: 2, stdout: "" });
    expect(stderr).toMatch(/^--url {2}\[flag-value\]/u);
  }
});
