/** The log of the built program, and its end while somebody reads the stream. */
import { cpSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, expect, test } from "vitest";
import { serveOnFreePorts } from "../support/command-line.ts";
import { openStream } from "../support/event-stream.ts";
import { until } from "../support/until.ts";

interface Line {
  readonly level: number;
  readonly part: string;
  readonly msg: string;
  readonly sentence?: string | null;
}

let folder = "";
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "bywash-log-"));
  cpSync("config/examples/malga.yaml", join(folder, "site.yaml"));
});
afterAll(() => rmSync(folder, { recursive: true }));

const WARN = 40;
const PARTS = new Set([
  ...["broker", "control", "history", "service"],
  ...["settings", "switching", "telemetry", "web"],
]);

test("each line is of one part, alarms are said in sentences, and the token is not in it", async () => {
  const service = await serveOnFreePorts(folder);
  const stream = await openStream(`${service.url}/api/stream`);
  await until(() => stream.messages.length > 0);
  service.process.kill("SIGTERM");
  const { code, stdout, stderr } = await service.ended;
  await stream.ended;
  expect({ code, stderr }).toEqual({ code: 0, stderr: "" });

  const lines = stdout
    .trim()
    .split("\n")
    .map((line) => JSON.parse(line) as Line);
  const parts = new Set(lines.map(({ part }) => part));
  expect([...parts]).toEqual(expect.arrayContaining(["broker", "control", "service", "web"]));
  // What else a busy machine has it say is of one of these.
  expect([...parts].filter((part) => !PARTS.has(part))).toEqual([]);
  const raised = lines.filter(({ msg }) => msg === "site raised");
  expect(raised.length).toBeGreaterThan(0);
  for (const { sentence, level } of raised) {
    expect(sentence).toMatch(/^\w.*\w$/u);
    expect(level).toBe(WARN);
  }
  expect(lines.at(-1)).toMatchObject({ part: "service", msg: "stopped" });
  expect(stdout).not.toContain(readFileSync(join(folder, "malga.token"), "utf8").trim());
});

test("the level is chosen for a run", async () => {
  const service = await serveOnFreePorts(folder, "--log-level", "debug");
  const stream = await openStream(`${service.url}/api/stream`);
  await until(() => stream.messages.length > 0);
  service.process.kill("SIGTERM");
  expect((await service.ended).stdout).toContain('"msg":"reader of the stream came"');
});
