/** The process is killed in the middle of writing: what was acknowledged is there. */
import { spawn } from "node:child_process";
import { mkdtempSync, readdirSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, expect, test } from "vitest";
import { readSegment } from "../../service/history/journal/read-journal.ts";
import { listSegments } from "../../service/history/journal/segments.ts";
import { loadMemory } from "../../service/history/memory-file.ts";
import { query } from "../history/scratch.ts";

/** A full run of evidence sets 200. */
const KILLS = Number(process.env["BYWASH_KILLS"] ?? 20);
const KILL_WITHIN_MS = 120;
const folder = mkdtempSync(join(tmpdir(), "bywash-kill-"));
afterAll(() => rmSync(folder, { recursive: true }));

/** Writes until it is killed, some time after so many acknowledgements. */
async function writeAndDie(count: number, delayMs: number): Promise<number> {
  const child = spawn(process.execPath, ["test/process/history-writer.mjs", folder], {
    stdio: ["ignore", "pipe", "inherit"],
    timeout: 580_000,
    killSignal: "SIGKILL",
  });
  let output = "";
  let isPlanned = false;
  child.stdout.on("data", (chunk: Buffer) => {
    output += chunk.toString();
    if (isPlanned || output.split("ACKNOWLEDGED").length <= count) return;
    isPlanned = true;
    setTimeout(() => child.kill("SIGKILL"), delayMs);
  });
  const signal = await new Promise((done) => child.once("close", (_code, by) => done(by)));
  expect({ signal, isPlanned }).toEqual({ signal: "SIGKILL", isPlanned: true });
  expect(output).not.toContain("SAID");
  const numbers = [...output.matchAll(/^ACKNOWLEDGED (\d+)\n/gmu)].map(([, text]) => Number(text));
  return Math.max(...numbers);
}

function journalled(path: string): unknown[] {
  return [...readSegment(path)].flatMap((entry) =>
    entry.kind === "tick" ? [entry.observation.battery.voltageV.value] : [],
  );
}

test(
  `${KILLS} kills lose nothing that was acknowledged`,
  async () => {
    const database = join(folder, "history.db");
    let eventsBefore = 0;
    let acknowledgedInAll = 0;
    for (let kill = 0; kill < KILLS; kill += 1) {
      const last = await writeAndDie(1 + (kill % 3), (kill * 37) % KILL_WITHIN_MS);
      acknowledgedInAll += last + 1;
      expect(query(database, "PRAGMA integrity_check")).toEqual([["ok"]]);
      const codes = query(
        database,
        `SELECT code FROM event ORDER BY id LIMIT -1 OFFSET ${eventsBefore}`,
      ).map(([code]) => code);
      expect(codes.length).toBeGreaterThan(last);
      expect(codes).toEqual(codes.map((_, number) => `number-${number}`));
      eventsBefore += codes.length;

      const segment = listSegments(join(folder, "journal")).at(-1)!;
      const values = journalled(segment.path);
      expect(values.length).toBeGreaterThan(last);
      expect(values).toEqual(values.map((_, number) => number));

      const memory = loadMemory(join(folder, "memory.json.br"));
      const { number } = memory?.body as { readonly number: number };
      expect(number).toBeGreaterThanOrEqual(last);
    }
    expect(acknowledgedInAll).toBeGreaterThan(KILLS);
    expect(readdirSync(folder).filter((name) => /damaged|replaced/.test(name))).toEqual([]);
  },
  600_000 + KILLS * 20_000,
);
