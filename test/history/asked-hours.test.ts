/** What a person asked for stands in the minutes of the day, and counts as theirs. */
import { join } from "node:path";
import { expect, test } from "vitest";
import type { LoadRequest } from "../../service/control/observation.ts";
import type { Memory } from "../../service/control/memory.ts";
import { initialMemory } from "../../service/control/memory.ts";
import { step } from "../../service/control/step.ts";
import { answer } from "../../service/history/reading/questions.ts";
import { openReader } from "../../service/history/reading/reader.ts";
import { createScribe, DATABASE_FILE } from "../../service/history/scribe.ts";
import { createPastDesk } from "../../service/past-desk.ts";
import { fresh, load, loadObservation, observe, site, TICK_MS } from "../control/given.ts";
import { testHistory, testSite } from "../support/site.ts";
import { scratchFolders } from "./scratch.ts";

const newFolder = scratchFolders();
const MINUTE_MS = 60_000;
const settings = site({ loads: [load({ id: "spring-pump" }), load({ id: "water-heater" })] });

/** A dull afternoon on which nothing runs by itself, recorded. */
function recordHour(requests: readonly [LoadRequest, LoadRequest]): string {
  const folder = newFolder();
  const { receive } = createScribe(
    { history: testHistory(folder), control: settings, codeVersion: "1.2.3", wallMs: 0 },
    () => undefined,
  );
  let memory: Memory = initialMemory(settings, 0);
  for (let atMs = TICK_MS; atMs <= 60 * MINUTE_MS; atMs += TICK_MS) {
    const isFirst = atMs === TICK_MS;
    const memoryBefore = memory;
    const observation = observe(settings, atMs, {
      socFraction: 0.8,
      currentA: -10,
      arrayW: 0,
      loads: memory.loads.map(({ stage }, index) =>
        loadObservation({
          reportedStage: fresh(stage),
          request: isFirst ? (requests[index] ?? "none") : "none",
          requestForMs: isFirst ? 30 * MINUTE_MS : 0,
        }),
      ),
    });
    const result = step(memoryBefore, observation, settings);
    memory = result.memory;
    receive({ kind: "tick", tick: { observation, ...result }, memoryBefore });
  }
  receive({ kind: "close", ticket: 1 });
  return join(folder, DATABASE_FILE);
}

async function dayOf(path: string) {
  const site = { ...testSite(), control: settings, timeZone: "UTC" };
  const reader = openReader(path);
  try {
    const desk = createPastDesk({
      site: () => site,
      clock: { wallMs: () => 0 },
      asker: { ask: (question) => Promise.resolve(answer(reader, question)) },
    });
    const days = await desk.days({ beforeDay: null, limit: 1 });
    const date = days?.days[0]?.date ?? "";
    return await desk.day(Date.parse(`${date}T00:00:00Z`) / 86_400_000);
  } finally {
    reader.close();
  }
}

test("what ran on request is theirs, and marked; a load held off is marked, too", async () => {
  const day = await dayOf(recordHour(["run", "hold"]));
  const { figures, loads = {} } = day ?? {};
  // After a start of the service a load rests first: 25 of the 30 minutes are left, at full power.
  const askedWh = ((settings.loads[0]?.stagesW.at(-1) ?? NaN) * 25) / 60;
  expect(Math.abs((figures?.askedWh ?? NaN) / askedWh - 1)).toBeLessThan(0.01);
  expect(figures?.divertedWh).toBe(figures?.askedWh);
  const minutesOf = (id: string, wanted: "run" | "hold"): number =>
    loads[id]?.asked.filter((one) => one === wanted).length ?? NaN;
  expect(minutesOf("spring-pump", "run")).toBeGreaterThanOrEqual(25);
  expect(minutesOf("spring-pump", "run")).toBeLessThanOrEqual(27);
  expect(minutesOf("spring-pump", "hold")).toBe(0);
  expect(minutesOf("water-heater", "hold")).toBeGreaterThanOrEqual(29);
  expect(minutesOf("water-heater", "hold")).toBeLessThanOrEqual(31);
  expect(minutesOf("water-heater", "run")).toBe(0);
});

test("an afternoon on which nobody asked has none of it", async () => {
  const day = await dayOf(recordHour(["none", "none"]));
  expect(day?.figures?.askedWh).toBe(0);
  for (const { asked } of Object.values(day?.loads ?? {})) {
    expect(asked.length).toBe(day?.minutes.length);
    expect(new Set(asked)).toEqual(new Set([null]));
  }
  expect(Object.keys(day?.loads ?? {})).toEqual(["spring-pump", "water-heater"]);
});
