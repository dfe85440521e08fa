/** A service that runs reads its settings again: by command, and by SIGHUP. */
import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, beforeEach, expect, test } from "vitest";
import { bywash, serveOnFreePorts } from "../support/command-line.ts";
import type { Typed } from "../support/command-line.ts";

const EXAMPLE = readFileSync("config/examples/malga.yaml", "utf8");

let folder = "";
let service: Awaited<ReturnType<typeof serveOnFreePorts>>;

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), "bywash-reload-"));
  cpSync("config/examples/malga.yaml", join(folder, "site.yaml"));
  service = await serveOnFreePorts(folder);
});
afterAll(async () => {
  service.process.kill("SIGTERM");
  expect((await service.ended).code).toBe(0);
  rmSync(folder, { recursive: true });
});
beforeEach(() => {
  writeFileSync(join(folder, "site.yaml"), EXAMPLE);
});

function reload(): Promise<Typed> {
  return bywash(["reload", "--token-file", "malga.token", "--url", service.url], { cwd: folder });
}

/** Writes the example with one text in place of another, which has to be there. */
function write(text: string, replacement: string): void {
  expect(EXAMPLE).toContain(text);
  writeFileSync(join(folder, "site.yaml"), EXAMPLE.replace(text, replacement));
}

async function labels(): Promise<readonly string[]> {
  const { stdout } = await bywash(["explain", "--json", "--url", service.url]);
  return [...stdout.matchAll(/"label": ?"([^"]+)"/gu)].map(([, label]) => label ?? "");
}

test("what the file says now is in force at once", async () => {
  write("label: Pump from the spring to the cistern", "label: Pump of the lower spring");
  expect(await reload()).toMatchObject({
    code: 0,
    stdout: "the new settings are in force\n",
    stderr: "",
  });
  expect(await labels()).toContain("Pump of the lower spring");
});

test("a file with a mistake changes nothing, and the mistake is told where it was asked", async () => {
  await reload();
  write("power: 750 W", "power: 750");
  const refused = await reload();
  expect(refused).toMatchObject({ code: 2, stdout: "" });
  expect(refused.stderr).toMatch(
    /site\.yaml:\d+:\d+ {2}\[unit-missing\]\n {2}key: {6}loads\.spring-pump\.power/u,
  );
  expect(refused.stderr).toContain("the service runs on as it was");
  expect(await labels()).toContain("Pump from the spring to the cistern");
});

test("what needs a restart is named, and the rest is applied", async () => {
  write("label: Goat dairy, upper pasture", "label: Goat dairy\n  tick: 1 s # was: upper pasture");
  const twice = readFileSync(join(folder, "site.yaml"), "utf8").replace("  tick: 2 s #", "  #");
  writeFileSync(join(folder, "site.yaml"), twice.replace("id: malga #", "id: alp #"));
  const done = await reload();
  expect(done).toMatchObject({ code: 0, stderr: "" });
  expect(done.stdout).toContain("site.id: changed, but counts only from the next start on\n");
});

test("SIGHUP does the same, and the log has the answer", async () => {
  write("power: 750 W", "power: 750");
  service.process.kill("SIGHUP");
  await service.says(/"part":"settings".*unit-missing.*"msg":"settings refused/u);
  writeFileSync(join(folder, "site.yaml"), EXAMPLE);
  service.process.kill("SIGHUP");
  await service.says(/settings refused[^]*"part":"settings".*"msg":"settings applied"/u);
});

test("needs the service's own token", async () => {
  writeFileSync(join(folder, "other.token"), "another-token-another-token");
  const refused = await bywash(["reload", "--token-file", "other.token", "--url", service.url], {
    cwd: folder,
  });
  expect(refused).toMatchObject({ code: 2, stdout: "" });
  expect(refused.stderr).toContain("other.token  [token-refused]");
});
