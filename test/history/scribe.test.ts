import { rmSync, statSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { expect, it } from "vitest";
import { NO_TIMES } from "../../service/control/guidance/times-record.ts";
import { readJournalDay } from "../../service/history/journal/read-journal.ts";
import type { FromScribe, Tick, ToScribe } from "../../service/history/messages.ts";
import { createScribe, DATABASE_FILE, JOURNAL_FOLDER } from "../../service/history/scribe.ts";
import { MEMORY_FILE } from "../../service/history/scribe.ts";
import { fresh, loadObservation } from "../control/given.ts";
import { testHistory } from "../support/site.ts";
import { createShed, settings } from "./day-of-ticks.ts";
import { execute, query, scratchFolders } from "./scratch.ts";

const newFolder = scratchFolders();
const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;

interface Bench {
  readonly folder: string;
  readonly database: string;
  readonly heard: FromScribe[];
  readonly receive: (message: ToScribe) => void;
  readonly take: (ticks: readonly Tick[]) => void;
  readonly close: () => void;
}

function open(folder = newFolder(), keptDays = 400): Bench {
  const heard: FromScribe[] = [];
  const { receive } = createScribe(
    {
      history: { ...testHistory(folder), samplesKeptDays: keptDays },
      control: settings,
      codeVersion: "1.2.3",
      wallMs: Date.UTC(2026, 5, 21, 10),
    },
    (message) => heard.push(message),
  );
  return {
    folder,
    database: join(folder, DATABASE_FILE),
    heard,
    receive,
    take(ticks) {
      for (const { memoryBefore, ...tick } of ticks) receive({ kind: "tick", tick, memoryBefore });
    },
    close: () => receive({ kind: "close", ticket: 99 }),
  };
}

it("keeps the minutes, events, decisions, settings and memory of an afternoon", () => {
  const bench = open();
  const ticks = createShed().during(HOUR_MS);
  bench.take(ticks);
  bench.close();
  expect(bench.heard.at(-2)).toEqual({ kind: "flushed", ticket: 99, isWhole: true });
  const { database } = bench;

  const minute = (tick: Tick) => Math.floor(tick.observation.wallMs / 60_000);
  const [first] = ticks.slice(6);
  const currents = ticks
    .filter((tick) => minute(tick) === minute(first!))
    .map(({ observation }) => observation.battery.currentA.value);
  const [sample] = query(
    database,
    `SELECT min, mean, max FROM sample_value WHERE signal = 'battery.currentA' AND at_ms = ${minute(first!) * 60_000}`,
  );
  expect(sample![0]).toBeCloseTo(Math.min(...currents), 2);
  expect(sample![1]).toBeCloseTo(currents.reduce((sum, one) => sum + one) / currents.length, 2);
  expect(sample![2]).toBeCloseTo(Math.max(...currents), 2);
  const minutes = new Set(ticks.map(minute)).size;
  expect(query(database, "SELECT count(DISTINCT minute) FROM sample")).toEqual([[minutes]]);

  const events = ticks.flatMap(({ observation, decision }) =>
    decision.events.map(({ about, change, code }) => [observation.wallMs, about, change, code]),
  );
  expect(events.length).toBeGreaterThan(3);
  const told = query(database, "SELECT at_ms, about, change, code FROM event ORDER BY id");
  expect(told).toEqual(events);

  const verdicts = ticks.map(({ decision }) => decision.verdicts[1]!);
  const changes = verdicts.filter(({ code, stage }, index) => {
    const before = verdicts[index - 1];
    return before?.code !== code || before.stage !== stage;
  });
  expect(
    query(database, "SELECT code, stage FROM decision WHERE owner = 'water-heater' ORDER BY id"),
  ).toEqual(changes.map(({ code, stage }) => [code, stage]));

  const body = query(database, "SELECT body FROM settings")[0]![0];
  expect(JSON.parse(String(body))).toEqual(settings);
  expect(query(database, "SELECT local_day, code_version FROM day")).toEqual([[20_625, "1.2.3"]]);
  expect(query(database, "SELECT local_day FROM memory")).toEqual([[20_625]]);
});

it("commits a tick with events at once", () => {
  const bench = open();
  const shed = createShed();
  const count = (): unknown => query(bench.database, "SELECT count(*) FROM event")[0]![0];
  let told = 0;
  for (let tick = 0; tick < 400; tick += 1) {
    const next = shed.tick();
    bench.take([next]);
    told += next.decision.events.length;
    if (next.decision.events.length > 0) expect(count()).toBe(told);
  }
  expect(told).toBeGreaterThan(3);
  bench.close();
});

it("commits what waits without an event every five minutes, and nothing in between", () => {
  const bench = open();
  const shed = createShed();
  const minutes = (): number =>
    Number(query(bench.database, "SELECT count(DISTINCT minute) FROM sample")[0]![0]);
  const counts: number[] = [];
  for (let minute = 0; minute < 11; minute += 1) {
    const ticks = shed.during(60_000);
    bench.take(ticks.map((tick) => ({ ...tick, decision: { ...tick.decision, events: [] } })));
    counts.push(minutes());
  }
  bench.close();
  expect(new Set(counts)).toEqual(new Set([0, 5, 10]));
  expect(minutes()).toBe(12);
});

it("keeps how often good times came true, also through a run that says nothing of it", () => {
  const folder = newFolder();
  const ticks = createShed().during(HOUR_MS);
  const times = { ...NO_TIMES, saidHour: 7 };
  const first = open(folder);
  first.receive({ kind: "times", times });
  first.take(ticks);
  first.close();
  const second = open(folder);
  expect(second.heard[0]).toMatchObject({ kind: "open", saved: { times } });
  second.take(ticks);
  second.close();
  const third = open(folder);
  expect(third.heard[0]).toMatchObject({ kind: "open", saved: { times } });
  third.close();
});

it("gives the next run what this one remembered, also after damage to the database", () => {
  const folder = newFolder();
  const bench = open(folder);
  const ticks = createShed().during(HOUR_MS);
  bench.take(ticks);
  bench.close();
  const saved = {
    wallMs: ticks.at(-1)!.observation.wallMs,
    codeVersion: "1.2.3",
    body: ticks.at(-1)!.memory,
    times: null,
  };
  const next = open(folder);
  expect(next.heard[0]).toEqual({ kind: "open", saved });
  next.close();
  writeFileSync(bench.database, "garbage");
  const again = open(folder);
  expect(again.heard[0]).toEqual({ kind: "open", saved });
  expect(again.heard[1]).toMatchObject({
    kind: "said",
    message: "the history was damaged: it is set aside, and a new one begins",
  });
  again.close();
  writeFileSync(join(folder, MEMORY_FILE), "garbage");
  const last = open(folder);
  expect(last.heard[0]).toEqual({ kind: "open", saved: null });
  last.close();
});

it("keeps commands with what the broker and the actuator said, and what people asked for", () => {
  const bench = open();
  const shed = createShed();
  const command = { about: "load", owner: "spring-pump", stage: 1, wallMs: 5 } as const;
  const tick = shed.tick({
    loads: [
      loadObservation({ request: "clear" }),
      loadObservation({ request: "run", requestForMs: 1_800_000 }),
    ],
  });
  const confirmed = (isConfirmed: boolean): Tick => ({
    ...tick,
    memory: { ...tick.memory, loads: tick.memory.loads.map((one) => ({ ...one, isConfirmed })) },
  });
  bench.receive({ kind: "command", command: { ...command, acknowledgedMs: 6 } });
  bench.receive({ kind: "command", command: { ...command, stage: 0, acknowledgedMs: null } });
  bench.take([confirmed(false), confirmed(true), confirmed(true)]);
  bench.close();
  const { wallMs } = tick.observation;
  expect(
    query(bench.database, "SELECT stage, acknowledged_ms, confirmed_ms FROM command ORDER BY id"),
  ).toEqual([
    [1, 6, null],
    [0, null, wallMs],
  ]);
  expect(query(bench.database, "SELECT DISTINCT owner, request FROM override")).toEqual([
    ["spring-pump", "clear"],
    ["water-heater", "run 30 min"],
  ]);
});

it("goes on with the database while the journal fails, says so once, and resumes", () => {
  const folder = newFolder();
  writeFileSync(join(folder, JOURNAL_FOLDER), "a file where the folder should be");
  const bench = open(folder);
  const shed = createShed();
  bench.take(shed.during(30 * 60_000));
  const said = () => bench.heard.filter(({ kind }) => kind === "said");
  expect(said()).toMatchObject([{ message: "the journal cannot be written; control goes on" }]);
  const lost = bench.heard.at(-1);
  expect(lost).toMatchObject({ kind: "done", isWriting: false });
  rmSync(join(folder, JOURNAL_FOLDER));
  const after = shed.during(10 * 60_000);
  bench.take(after);
  bench.close();
  expect(said()).toMatchObject([{}, { message: "the journal is written again" }]);
  const entries = [...readJournalDay(join(folder, JOURNAL_FOLDER), "2026-06-21")];
  const read = entries.flatMap((one) => (one.kind === "tick" ? [one.observation] : []));
  expect(read.slice(-after.length)).toStrictEqual(after.map(({ observation }) => observation));
  const start = entries[0];
  expect(start).toMatchObject({ kind: "start" });
  expect(query(bench.database, "SELECT count(*) > 0 FROM sample")).toEqual([[1]]);
});

it("drops what is past its time, two days' worth a day, and nothing by an implausible clock", () => {
  const folder = newFolder();
  const bench = open(folder, 3);
  const oldest = () => query(bench.database, "SELECT min(minute) * 60000 FROM sample")[0]![0];
  const day = (number: number) => createShed(number * DAY_MS).during(120_000);
  for (let number = 0; number < 3; number += 1) bench.take(day(number));
  const begun = oldest();
  bench.take(day(20).map((tick) => withClock(tick, false)));
  expect(oldest()).toBe(begun);
  bench.take(day(21));
  expect(Number(oldest()) - Number(begun)).toBeGreaterThan(DAY_MS);
  expect(Number(oldest()) - Number(begun)).toBeLessThanOrEqual(2 * DAY_MS);
  bench.take(day(22));
  bench.take(day(23));
  bench.close();
  expect(Number(oldest()) - Number(begun)).toBeGreaterThan(18 * DAY_MS);
  // What is kept for years is all there.
  expect(query(bench.database, "SELECT count(*) FROM day")).toEqual([[7]]);
});

function withClock(tick: Tick, isWallClockPlausible: boolean): Tick {
  return { ...tick, observation: { ...tick.observation, isWallClockPlausible } };
}

it("gives pages back once much of the file is free", () => {
  const folder = newFolder();
  const bench = open(folder, 1);
  bench.take(createShed().during(60_000));
  bench.close();
  const padding = "x".repeat(1000);
  execute(
    bench.database,
    `WITH RECURSIVE n (i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 2000)
     INSERT INTO gap SELECT NULL, i, i, 0, '${padding}' FROM n; DELETE FROM gap`,
  );
  const before = statSync(bench.database).size;
  const next = open(folder, 1);
  next.take(createShed(DAY_MS).during(60_000));
  next.close();
  expect(before).toBeGreaterThan(2_000_000);
  expect(statSync(bench.database).size).toBeLessThan(before / 2);
});

it("remembers that it lost something", () => {
  const bench = open();
  bench.take([createShed().tick()]);
  bench.receive({ kind: "lost", count: 7, reason: "writer too slow or gone" });
  bench.receive({ kind: "flush", ticket: 1 });
  bench.close();
  expect(query(bench.database, "SELECT dropped, reason FROM gap")).toEqual([
    [7, "writer too slow or gone"],
  ]);
});

it("counts a tick of which the readings are gone as a minute without them", () => {
  const bench = open();
  const shed = createShed();
  const tick = shed.tick();
  const { battery } = tick.observation;
  const stale = { ...battery, currentA: { ...fresh(1), quality: "stale" } } as const;
  bench.take([{ ...tick, observation: { ...tick.observation, battery: stale } }]);
  bench.close();
  const names = query(bench.database, "SELECT name FROM signal").map(([name]) => name);
  expect(names).toContain("battery.voltageV");
  expect(names).not.toContain("battery.currentA");
});
