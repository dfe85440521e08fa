import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import fc from "fast-check";
import { expect, it } from "vitest";
import { initialMemory } from "../../service/control/memory.ts";
import type { Observation } from "../../service/control/observation.ts";
import { packRows, unpackRows } from "../../service/history/journal/block.ts";
import { createJournal } from "../../service/history/journal/journal.ts";
import { readSegment } from "../../service/history/journal/read-journal.ts";
import { listSegments } from "../../service/history/journal/segments.ts";
import { flatten } from "../../service/history/journal/shape.ts";
import { testControl } from "../support/site.ts";
import { arbitraryObservation } from "./arbitrary-observation.ts";
import { createShed } from "./day-of-ticks.ts";

const memory = initialMemory(testControl(), 0);
const { decision } = createShed().tick();

function throughJournal(observations: readonly Observation[]): unknown[] {
  const folder = mkdtempSync(join(tmpdir(), "bywash-journal-"));
  try {
    const start = { codeVersion: "1", settingsHash: "h", settings: testControl() };
    const journal = createJournal({ folder, keptDays: 99, keptBytes: 1e9, start });
    for (const observation of observations) {
      journal.append({ observation, decision, memoryBefore: () => memory, isNext: true });
    }
    journal.close();
    const entries = listSegments(folder).flatMap(({ path }) => [...readSegment(path)]);
    expect(entries.filter(({ kind }) => kind === "damage")).toEqual([]);
    return entries.flatMap((entry) => (entry.kind === "tick" ? [entry.observation] : []));
  } finally {
    rmSync(folder, { recursive: true });
  }
}

it("gives back every observation to the last bit, whatever its values and shape", () => {
  fc.assert(
    fc.property(fc.array(arbitraryObservation, { minLength: 1, maxLength: 6 }), (written) => {
      const read = throughJournal(written.map((one) => ({ ...one, localDay: 20_600 })));
      // toStrictEqual tells -0 from 0, and a missing key from one that holds undefined.
      expect(read).toStrictEqual(written.map((one) => ({ ...one, localDay: 20_600 })));
      expect(JSON.stringify(read)).toBe(
        JSON.stringify(written.map((one) => ({ ...one, localDay: 20_600 }))),
      );
    }),
    { numRuns: 150 },
  );
});

it("keeps the order of the ticks of each day, however the local day jumps", () => {
  fc.assert(
    fc.property(fc.array(arbitraryObservation, { minLength: 1, maxLength: 8 }), (written) => {
      const days = [...new Set(written.map(({ localDay }) => localDay))].sort((a, b) => a - b);
      const expected = days.flatMap((day) => written.filter(({ localDay }) => localDay === day));
      expect(throughJournal(written)).toStrictEqual(expected);
    }),
    { numRuns: 50 },
  );
});

/** Arrivals so long ago that a double can't hold the step to them were taken for ones it can. */
it.each([5e15, 2 ** 51, 2 ** 52, 2 ** 53 - 1000])("gives back an age of %d ms", (ageMs) => {
  const rows = [0, 1, 2].map((time) => ({ monotonicMs: time, ageMs: time + ageMs }));
  const flat = rows.map((row) => flatten({ ...row }));
  const shape = flat[0]!.shape;
  expect(unpackRows(packRows(flat, shape), shape)).toStrictEqual(rows);
});

it("gives back any plain rows of one shape, with times that it can use and that it cannot", () => {
  const leaf = fc.oneof(
    fc.double(),
    fc.string(),
    fc.boolean(),
    fc.constantFrom(null, undefined, 0, -0, 1e21, 1.5, 0.07 * 0.01),
  );
  const row = fc.record({ before: leaf, monotonicMs: leaf, after: leaf, list: fc.tuple(leaf) });
  const age = fc.record({ monotonicMs: fc.nat(), ageMs: fc.nat(), list: fc.constant([]) });
  const blocks = fc.oneof(
    fc.array(row, { minLength: 1, maxLength: 20 }),
    fc.array(age, { minLength: 1, maxLength: 20 }),
  );
  fc.assert(
    fc.property(blocks, (rows) => {
      const flat = rows.map((one) => flatten({ ...one }));
      const shape = flat[0]!.shape;
      expect(unpackRows(packRows(flat, shape), shape)).toStrictEqual(
        rows.map((one) => ({ ...one })),
      );
    }),
    { numRuns: 500 },
  );
});
