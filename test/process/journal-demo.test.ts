/**
 * A day of the real daemon, with a simulated shed at the other end of a real broker: every decision
 * comes out of its journal again.
 */
import { readFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { expect, it } from "vitest";
import { parseSite } from "../../config/load.ts";
import { createRigRun } from "../../service/cli/rig-run.ts";
import { step } from "../../service/control/step.ts";
import type { Step } from "../../service/control/step.ts";
import { readSegment } from "../../service/history/journal/read-journal.ts";
import { reproduce } from "../../service/cli/reproduce.ts";
import { listSegments } from "../../service/history/journal/segments.ts";
import { createScribe, JOURNAL_FOLDER } from "../../service/history/scribe.ts";
import { syntheticDay } from "../../simulator/weather/synthetic-day.ts";
import { scratchFolders } from "../history/scratch.ts";
import { silentLog } from "../support/log.ts";
import { testHistory } from "../support/site.ts";

const MALGA = "config/examples/malga.yaml";
const TICK_S = 10;
const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;
const MB = 1_000_000;
const newFolder = scratchFolders();

const site = parseSite({
  text: readFileSync(MALGA, "utf8"),
  fileName: MALGA,
  overrides: [
    `site.tick=${String(TICK_S)} s`,
    "broker.embedded.port=0",
    "web.port=0",
    `web.tokenFile=${join(tmpdir(), `bywash-journal-test-${String(process.pid)}`)}`,
  ],
});

/** Everything that the daemon gives its core, and gets from it, goes to the scribe. */
async function recordDay(folder: string): Promise<number> {
  let tickCount = 0;
  const { receive } = createScribe(
    { history: testHistory(folder), control: site.control, codeVersion: "1.2.3", wallMs: 0 },
    (message) => {
      if (message.kind === "said") throw new Error(message.message);
    },
  );
  const recorded: Step = (memoryBefore, observation, settings) => {
    const result = step(memoryBefore, observation, settings);
    tickCount += 1;
    receive({ kind: "tick", tick: { observation, ...result }, memoryBefore });
    return result;
  };
  const day = syntheticDay({ site, localDate: "2025-06-12", seed: 1, kind: "broken" });
  const demo = createRigRun({
    site,
    days: [day],
    startFraction: 0.8,
    speed: 100_000,
    forMs: DAY_MS,
    step: recorded,
    log: silentLog,
    version: "test",
    mayBridge: false,
    elsewhere: null,
    hasWeb: true,
    listener: { onReady: () => Promise.resolve(), onDecision: () => undefined },
  });
  await demo.run();
  receive({ kind: "close", ticket: 1 });
  return tickCount;
}

it("decides a whole day of a running daemon again, to the last figure", async () => {
  const folder = newFolder();
  const tickCount = await recordDay(folder);
  const segments = listSegments(join(folder, JOURNAL_FOLDER));
  const entries = segments.flatMap(({ path }) => [...readSegment(path)]);
  const result = reproduce(entries, step);
  expect(result).toMatchObject({ tickCount, difference: null, damages: [], gaps: [] });
  // A day of 8640 regular ticks, and some that an interlock has asked for.
  expect(tickCount).toBeGreaterThanOrEqual(DAY_MS / TICK_S / 1000);
  expect(result.runningCount).toBeGreaterThan(500);
  const bytes = segments.reduce((sum, { path }) => sum + readFileSync(path).length, 0);
  // A day at the usual pace of 2 s is to stay below 5 MB.
  expect(bytes).toBeLessThan((5 * MB * 2) / TICK_S);
}, 120_000);
