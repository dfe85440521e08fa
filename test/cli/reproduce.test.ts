/** A recorded day decided again: the same to the last figure, or the first tick that is not. */
import { readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { expect, it } from "vitest";
import type { ControlSettings } from "../../service/control/settings.ts";
import { step } from "../../service/control/step.ts";
import type { Step } from "../../service/control/step.ts";
import { createJournal } from "../../service/history/journal/journal.ts";
import { readJournalDay } from "../../service/history/journal/read-journal.ts";
import type { JournalEntry } from "../../service/history/journal/read-journal.ts";
import { journalSchema } from "../../service/cli/journal-schema.ts";
import { reproduce } from "../../service/cli/reproduce.ts";
import type { Tick } from "../../service/history/messages.ts";
import { HOUR_MS, MINUTE_MS, TICK_MS } from "../control/given.ts";
import { createShed, settings } from "../history/day-of-ticks.ts";
import { scratchFolders } from "../history/scratch.ts";

const newFolder = scratchFolders();
const DAY = "2026-06-21";

function record(ticks: readonly Tick[], folder = newFolder(), isNext = true): string {
  const start = { codeVersion: "1.2.3", settingsHash: "hash", settings };
  const journal = createJournal({ folder, keptDays: 14, keptBytes: 1e9, start });
  let last: Tick | null = null;
  for (const tick of ticks) {
    const { observation, decision, memoryBefore } = tick;
    const isChained = last?.memory === memoryBefore;
    const row = { observation, decision, memoryBefore: () => memoryBefore };
    journal.append({ ...row, isNext: isNext || isChained });
    last = tick;
  }
  journal.close();
  return folder;
}

function under(change: (control: ControlSettings) => ControlSettings, folder: string) {
  return [...readJournalDay(folder, DAY)].map((entry): JournalEntry => {
    if (entry.kind !== "start") return entry;
    return { kind: "start", start: { ...entry.start, settings: change(entry.start.settings) } };
  });
}

const RUN = createShed().during(2 * HOUR_MS);

it("decides every tick as it was decided, with loads that come and go", () => {
  const result = reproduce(readJournalDay(record(RUN), DAY), step);
  expect(result).toMatchObject({ tickCount: RUN.length, difference: null, gaps: [], damages: [] });
  expect(result.stretches).toEqual([
    { wallMs: RUN[0]!.observation.wallMs, codeVersion: "1.2.3", settingsHash: "hash" },
  ]);
  expect(result.runningCount).toBeGreaterThan(100);
  expect(result.runningCount).toBeLessThan(RUN.length - 100);
});

it("goes on over a restart, and says of which time there is no tick", () => {
  const folder = record(RUN);
  const later = createShed(3 * HOUR_MS).during(HOUR_MS);
  record(later, folder);
  const result = reproduce(readJournalDay(folder, DAY), step);
  expect(result).toMatchObject({ tickCount: RUN.length + later.length, difference: null });
  expect(result.stretches).toHaveLength(2);
  const [fromWallMs, toWallMs] = [RUN.at(-1)!, later[0]!].map((one) => one.observation.wallMs);
  expect(result.gaps).toEqual([{ fromWallMs, toWallMs }]);
});

it("goes on over ticks that were lost, where the journal is told of them", () => {
  const holed = RUN.filter((_, index) => index < 300 || index > 310);
  const told = reproduce(readJournalDay(record(holed, newFolder(), false), DAY), step);
  expect(told).toMatchObject({ tickCount: holed.length, difference: null });
  expect(told.stretches).toHaveLength(2);
  expect(told.gaps).toHaveLength(1);
  const untold = reproduce(readJournalDay(record(holed), DAY), step);
  expect(untold.difference).toMatchObject({ wallMs: holed[300]!.observation.wallMs });
});

it("finds the first tick that a threshold of the settings moves, however little", () => {
  const folder = record(RUN);
  const sooner = under(
    (control) => ({
      ...control,
      loads: control.loads.map((load, index) =>
        index === 0 ? { ...load, startForMs: load.startForMs - TICK_MS } : load,
      ),
    }),
    folder,
  );
  // Before, other waits hid that one.
  const first = RUN.findIndex(({ decision }) => decision.verdicts[0]?.code === "waiting-dwell");
  expect(first).toBeGreaterThan(0);
  const { difference, tickCount } = reproduce(sooner, step);
  expect(tickCount).toBe(first + 1);
  expect(difference).not.toBeNull();

  const aBit = under(({ ruleCurve, ...control }) => {
    expect(ruleCurve).toEqual({ kind: "fixed", atFraction: 0.94 });
    return { ...control, ruleCurve: { kind: "fixed", atFraction: 0.94 + Number.EPSILON / 2 } };
  }, folder);
  expect(reproduce(aBit, step)).toMatchObject({
    tickCount: 1,
    difference: { about: "figures", id: null, wallMs: RUN[0]!.observation.wallMs },
  });
});

it("names the load, what was recorded and what is decided where a rule is another", () => {
  const stop = RUN.findIndex(
    ({ decision }, index) =>
      decision.loadStages[1] === 0 && (RUN[index - 1]?.decision.loadStages[1] ?? 0) > 0,
  );
  const other: Step = (memory, observation, control) => {
    const result = step(memory, observation, control);
    if (observation.monotonicMs !== RUN[stop]!.observation.monotonicMs) return result;
    const loadStages = result.decision.loadStages.map((stage, index) => (index === 1 ? 1 : stage));
    return { ...result, decision: { ...result.decision, loadStages } };
  };
  const { difference, tickCount } = reproduce(readJournalDay(record(RUN), DAY), other);
  const { code } = RUN[stop]!.decision.verdicts[1]!;
  expect(tickCount).toBe(stop + 1);
  expect(difference).toMatchObject({
    about: "load",
    id: "water-heater",
    recorded: { code, stage: 0 },
    reproduced: { code, stage: 1 },
    verdicts: [RUN[stop]!.decision.verdicts[1]],
  });
});

it("says where the core cannot decide what another one has recorded", () => {
  const fails: Step = () => {
    throw new Error("no such reading");
  };
  const { difference } = reproduce(readJournalDay(record(RUN.slice(0, 5)), DAY), fails);
  expect(difference).toMatchObject({ about: "failure", message: "no such reading", site: null });
});

it("says what is damaged, and decides the rest", () => {
  const folder = record(createShed().during(5 * MINUTE_MS));
  const path = join(folder, readdirSync(folder)[0]!);
  writeFileSync(path, readFileSync(path).subarray(0, -3));
  record(createShed(6 * MINUTE_MS).during(MINUTE_MS), folder);
  const result = reproduce(readJournalDay(folder, DAY), step);
  expect(result).toMatchObject({ difference: null, damages: [{ path, reason: "not-whole" }] });
  expect(result.stretches).toHaveLength(2);
  expect(result.tickCount).toBeLessThan(36);
  expect(result.tickCount).toBeGreaterThan(20);
});

it("decides nothing where there is nothing", () => {
  expect(reproduce([], step)).toMatchObject({ tickCount: 0, stretches: [], difference: null });
});

it("is written as its schema says, whether it is the same or not", () => {
  const folder = record(RUN);
  const same = reproduce(readJournalDay(folder, DAY), step);
  const lowered = (control: ControlSettings): ControlSettings => ({
    ...control,
    ruleCurve: { ...control.ruleCurve, atFraction: control.ruleCurve.atFraction - 0.05 },
  });
  const other = reproduce(under(lowered, folder), step);
  expect(other.difference).not.toBe(null);
  for (const result of [same, other]) {
    const written: unknown = JSON.parse(JSON.stringify({ day: DAY, isSame: true, ...result }));
    expect(journalSchema.parse(written)).toEqual(written);
  }
  expect(() => journalSchema.parse({ day: DAY, isSame: true, ...same, extra: 1 })).toThrow();
});
