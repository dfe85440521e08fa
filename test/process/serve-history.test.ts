/** What a running service leaves behind: the ticks, the events and the commands. */
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, expect, test } from "vitest";
import type { StateView } from "../../service/state-view.ts";
import { readSegment } from "../../service/history/journal/read-journal.ts";
import { listSegments } from "../../service/history/journal/segments.ts";
import { query } from "../history/scratch.ts";
import { bywash, serveOnFreePorts } from "../support/command-line.ts";
import { until } from "../support/until.ts";
import { zoneFarFromMidnight } from "../support/zone.ts";

const folder = mkdtempSync(join(tmpdir(), "bywash-kept-"));
afterAll(() => rmSync(folder, { recursive: true }));

const history = join(folder, "malga.history");
const journal = join(history, "journal");
const segments = (): number => (existsSync(journal) ? listSegments(journal).length : 0);

/** Waits for so many decisions more. */
async function ticks(url: string, count: number): Promise<void> {
  const decided = async (): Promise<number> => {
    const state = (await (await fetch(`${url}/api/state`)).json()) as StateView;
    return state.counters.tickCount;
  };
  const before = await decided();
  await expect.poll(decided, { timeout: 120_000 }).toBeGreaterThanOrEqual(before + count);
}

test("serve keeps every tick beside the settings that decided in it", async () => {
  const example = readFileSync("config/examples/malga.yaml", "utf8");
  const zone = zoneFarFromMidnight();
  writeFileSync(join(folder, "site.yaml"), example.replace("Europe/Rome", zone));
  const service = await serveOnFreePorts(folder, "--set", "site.tick=1 s");
  await ticks(service.url, 2);
  const text = readFileSync(join(folder, "site.yaml"), "utf8");
  writeFileSync(join(folder, "site.yaml"), text.replace("at: 94 %", "at: 91 %"));
  const token = join(folder, "malga.token");
  const reloaded = await bywash(["reload", "--token-file", token, "--url", service.url]);
  expect(reloaded).toMatchObject({ code: 0, stderr: "" });
  // The first stretch is written when it ends; what is under way, every five minutes.
  await until(() => segments() > 0);
  await ticks(service.url, 3);
  const answer = await fetch(`${service.url}/api/events`);
  expect(answer.status).toBe(200);
  expect(JSON.stringify(await answer.json())).toContain("telemetry-missing");
  service.process.kill("SIGTERM");
  expect(await service.ended).toMatchObject({ code: 0, stderr: "" });

  const kept = listSegments(journal).map((segment) => [...readSegment(segment.path)]);
  const curves = kept.map(
    (entries) => JSON.stringify(entries).match(/"atFraction":([\d.]+)/u)?.[1],
  );
  expect(curves).toEqual(["0.94", "0.91"]);
  for (const entries of kept) expect(entries.length).toBeGreaterThan(1);
  const commands = query(join(history, "history.db"), "SELECT * FROM command");
  expect(commands.length).toBeGreaterThanOrEqual(3);

  const days = [...new Set(listSegments(journal).map(({ day }) => day))];
  for (const day of days) {
    const typed = ["replay", "--journal", day, "--config", join(folder, "site.yaml")];
    const again = await bywash(typed);
    expect(again).toMatchObject({ code: 0, stderr: "" });
    expect(again.stdout).toContain("every decision is the same, to the last figure\n");
    expect(again.stdout.split("\n").filter((line) => line.length > 80)).toEqual([]);
  }
});
