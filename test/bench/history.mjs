// What a day of ticks writes to the disk, and what a tick pays for it on the control thread.
//
// A day is run as fast as it goes. So that the kernel counts a page again when it is written again a
// minute later, as it would in real time, all files are synchronised after each simulated minute.
import { closeSync, fdatasyncSync, mkdtempSync, openSync, readdirSync } from "node:fs";
import { readFileSync, rmSync, statSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { loadSite } from "../../dist/config/load.js";
import { systemClock } from "../../dist/service/clock.js";
import { initialMemory } from "../../dist/service/control/memory.js";
import { step } from "../../dist/service/control/step.js";
import { createHistory } from "../../dist/service/history/history.js";
import { createScribe } from "../../dist/service/history/scribe.js";
import { createSignals } from "./history-day.mjs";
import { NotMeasured } from "./processes.mjs";
import { quantile } from "./report.mjs";
import { EXAMPLE } from "./site-file.mjs";

const TICK_MS = 2_000;
const DAY_TICKS = 86_400_000 / TICK_MS;
const MINUTE_TICKS = 60_000 / TICK_MS;
const PACED_TICKS = 5_000;
const MB = 1_000_000;
const SAY_NOTHING = () => undefined;

export async function measureHistory(_options, { say, attempt }) {
  const cases = [];
  for (const isWhole of [true, false]) {
    const name = isWhole ? "times in whole ms" : "times with fractions of a ms";
    say(`history: a day, ${name}`);
    const day = await attempt(`history, ${name}`, () => writeDay(isWhole));
    if (day !== null) cases.push({ name, ...day });
  }
  say("history: ticks through the thread");
  const recordUs = await payPerTick();
  const cost = (share) => quantile(recordUs, share).toFixed(0);
  return {
    title: `A day of ${DAY_TICKS} ticks with some 20 fresh signals: MB written, and MB left`,
    columns: ["given", "counted", "database", "journal"],
    rows: cases.map(({ name, ...one }) => ({
      name,
      cells: [one.givenMb, one.countedMb, one.databaseMb, one.journalMb].map((mb) => mb.toFixed(1)),
    })),
    notes: [
      "given: bytes in all write calls; counted: pages that the kernel took for the disk.",
      ...cases.map(
        ({ name, writeCount, eventCount }) =>
          `${name}: ${writeCount} write calls, ${eventCount} ticks with events`,
      ),
      `record() on the control thread, µs: p50 ${cost(0.5)}, p99 ${cost(0.99)}, max ${cost(1)}`,
    ],
    result: { cases, recordUs: { p50: quantile(recordUs, 0.5), p99: quantile(recordUs, 0.99) } },
  };
}

function writeDay(isWhole) {
  return inFolder((folder, site) => {
    const { receive } = createScribe(
      { history: site.history, control: site.control, codeVersion: "bench", wallMs: 0 },
      SAY_NOTHING,
    );
    const nextTick = createTicks(site, isWhole);
    const before = readIo();
    let eventCount = 0;
    for (let count = 0; count < DAY_TICKS; count += 1) {
      const { memoryBefore, ...tick } = nextTick();
      if (tick.decision.events.length > 0) eventCount += 1;
      receive({ kind: "tick", tick, memoryBefore });
      if (count % MINUTE_TICKS === MINUTE_TICKS - 1 && count > 2 * MINUTE_TICKS)
        synchronise([folder, join(folder, "journal")]);
    }
    receive({ kind: "close", ticket: 1 });
    const after = readIo();
    return {
      givenMb: (after.wchar - before.wchar) / MB,
      countedMb: (after.write_bytes - before.write_bytes) / MB,
      writeCount: after.syscw - before.syscw,
      eventCount,
      databaseMb: sizeOf(folder, /^history\.db/) / MB,
      journalMb: sizeOf(join(folder, "journal"), /\.journal$/) / MB,
    };
  });
}

async function payPerTick() {
  return inFolder(async (_folder, site) => {
    const history = createHistory({
      site,
      codeVersion: "bench",
      clock: systemClock,
      log: { debug: SAY_NOTHING, info: SAY_NOTHING, warn: SAY_NOTHING, error: SAY_NOTHING },
    });
    await history.start();
    const nextTick = createTicks(site, true);
    const spentUs = [];
    for (let count = 0; count < PACED_TICKS; count += 1) {
      const tick = nextTick();
      const startMs = performance.now();
      history.record(tick);
      spentUs.push((performance.now() - startMs) * 1000);
      // In the service the thread has seconds to keep up; here it is waited for.
      if (count % 100 === 99 && !(await history.flush())) throw new NotMeasured("no flush");
    }
    await history.close();
    if (history.status().droppedCount > 0) throw new NotMeasured("ticks were dropped");
    return spentUs;
  });
}

function createTicks({ control }, isWhole) {
  const signals = createSignals({ loads: control.loads.length, isWhole });
  const startMs = Date.UTC(2026, 5, 20, 22);
  let memory = initialMemory(control, 0);
  let count = 0;
  return () => {
    count += 1;
    const nowMs = count * TICK_MS;
    const stages = memory.loads.map(({ stage }) => stage);
    const arePanelsClosed = memory.panels.map(({ isClosed }) => isClosed);
    const { at, ...observed } = signals(nowMs, { stages, arePanelsClosed });
    const observation = {
      monotonicMs: at,
      wallMs: startMs + nowMs,
      isWallClockPlausible: true,
      localDay: 20_625 + Math.floor(nowMs / 86_400_000),
      localMinute: Math.floor(nowMs / 60_000) % 1440,
      isBrokerConnected: true,
      ...observed,
    };
    const memoryBefore = memory;
    const result = step(memoryBefore, observation, control);
    memory = result.memory;
    return { observation, memoryBefore, memory, decision: result.decision };
  };
}

async function inFolder(work) {
  const folder = mkdtempSync(join(tmpdir(), "bywash-bench-history-"));
  try {
    return await work(folder, loadSite({ path: EXAMPLE, overrides: [`history.folder=${folder}`] }));
  } finally {
    rmSync(folder, { recursive: true });
  }
}

function readIo() {
  try {
    const lines = readFileSync("/proc/self/io", "utf8").trim().split("\n");
    return Object.fromEntries(lines.map((line) => line.split(": ")).map(([k, v]) => [k, +v]));
  } catch (error) {
    throw new NotMeasured(`the kernel does not count: ${error.message}`);
  }
}

function synchronise(folders) {
  for (const folder of folders) {
    // Not the database itself: to close a second handle of it would take away SQLite's locks.
    for (const name of readdirSync(folder).filter((one) => /[.]journal$|db-wal$/.test(one))) {
      const file = openSync(join(folder, name), "r");
      fdatasyncSync(file);
      closeSync(file);
    }
  }
}

function sizeOf(folder, pattern) {
  return readdirSync(folder)
    .filter((name) => pattern.test(name))
    .reduce((sum, name) => sum + statSync(join(folder, name)).size, 0);
}
