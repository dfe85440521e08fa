/** A service that is killed and started again: what it must not forget. */
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, expect, test } from "vitest";
import { z } from "zod";
import { loadSite } from "../../config/load.ts";
import { createLocalCalendar } from "../../config/local-calendar.ts";
import { initialMemory } from "../../service/control/memory.ts";
import type { LoadMemory } from "../../service/control/memory.ts";
import { loadMemory, packMemory, saveMemory } from "../../service/history/memory-file.ts";
import { bywash, serveOnFreePorts } from "../support/command-line.ts";
import { until } from "../support/until.ts";
import { zoneFarFromMidnight } from "../support/zone.ts";

const folder = mkdtempSync(join(tmpdir(), "bywash-restart-"));
afterAll(() => rmSync(folder, { recursive: true }));

const MEMORY = join(folder, "malga.history", "memory.json.br");
const MINUTE_MS = 60_000;
const bodySchema = z.object({
  lastTickMs: z.number(),
  loads: z.array(
    z.object({ id: z.string(), latch: z.string(), ranTodayMs: z.number(), stage: z.number() }),
  ),
});
const verdictSchema = z.object({ code: z.string() });

function remembered(id: string) {
  const { loads } = bodySchema.parse(loadMemory(MEMORY)?.body);
  return loads.find((load) => load.id === id);
}

/** As a run would have left it: the heater latched, the pump with its 90 minutes of today. */
function leaveMemory(): void {
  const site = loadSite({ path: join(folder, "site.yaml"), overrides: [] });
  const wallMs = Date.now();
  const { localDay } = createLocalCalendar(site.timeZone)(wallMs);
  const memory = initialMemory(site.control, 0);
  const change = (load: LoadMemory): LoadMemory => {
    if (load.id === "water-heater") return { ...load, latch: "latched-welded" };
    return load.id === "spring-pump" ? { ...load, ranTodayMs: 90 * MINUTE_MS } : load;
  };
  const loads = memory.loads.map((load) => ({ ...change(load), day: localDay }));
  const body = { ...memory, lastTickMs: 0, loads };
  saveMemory(MEMORY, packMemory({ wallMs, codeVersion: "0.1.0", body }));
}

async function codeOf(id: string, url: string): Promise<string> {
  const { stdout } = await bywash(["explain", id, "--json", "--url", url]);
  return verdictSchema.parse(JSON.parse(stdout)).code;
}

test("a latch and what was used today outlive the death of the process, twice", async () => {
  const example = readFileSync("config/examples/malga.yaml", "utf8");
  const zone = zoneFarFromMidnight();
  writeFileSync(join(folder, "site.yaml"), example.replace("Europe/Rome", zone));
  const first = await serveOnFreePorts(folder);
  await until(() => existsSync(MEMORY));
  first.process.kill("SIGKILL");
  await first.ended;
  expect(remembered("water-heater")).toMatchObject({ latch: "none", ranTodayMs: 0 });

  leaveMemory();
  for (let run = 0; run < 2; run += 1) {
    const left = loadMemory(MEMORY)?.wallMs ?? Infinity;
    const service = await serveOnFreePorts(folder);
    // Its first tick is saved at once; before that the file is the one of the run before.
    await until(() => (loadMemory(MEMORY)?.wallMs ?? 0) > left);
    expect(await codeOf("water-heater", service.url)).toBe("latched-welded");
    service.process.kill("SIGKILL");
    expect(await service.ended).toMatchObject({ code: null });
    expect(remembered("water-heater")).toMatchObject({ latch: "latched-welded", stage: 0 });
    expect(remembered("spring-pump")).toMatchObject({ ranTodayMs: 90 * MINUTE_MS, stage: 0 });
  }
});
