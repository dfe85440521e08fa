/** A replay begins with what the service remembered then, once, as after a restart. */
import { expect, test } from "vitest";
import { memoryAtStart, stepFrom } from "../../service/cli/what-if-memory.ts";
import { initialMemory, LOAD_LATCHES } from "../../service/control/memory.ts";
import { observe, site, TICK_MS } from "../control/given.ts";

const settings = site();
const [none, latch] = LOAD_LATCHES;

test("what was saved is there at the first tick, and only there", () => {
  const blank = initialMemory(settings, 0);
  const first = observe(settings, TICK_MS);
  const loads = blank.loads.map((load) => ({ ...load, latch }));
  const body = { ...blank, lastTickMs: 0, loads };
  const step = stepFrom({ wallMs: first.wallMs, codeVersion: "1.2.3", body });
  const { memory } = step(blank, first, settings);
  expect(memory.loads[0]?.latch).toBe(latch);
  expect(latch).not.toBe(none);
  const second = step(blank, observe(settings, 2 * TICK_MS), settings);
  expect(second.memory.loads[0]?.latch).toBe(none);
});

test("without anything saved it is the core as it is", () => {
  const blank = initialMemory(settings, 0);
  const { memory } = stepFrom(null)(blank, observe(settings, TICK_MS), settings);
  expect(memory.loads[0]?.latch).toBe(none);
});

test("a journal tells what was remembered when its day began, and of other days nothing", () => {
  const release = "test/data/releases/0.1.0";
  const saved = memoryAtStart(release, "2025-06-12");
  expect(saved?.codeVersion).toBe("0.1.0");
  expect(new Date(saved?.wallMs ?? 0).toISOString().slice(0, 16)).toBe("2025-06-12T07:00");
  expect(memoryAtStart(release, "2025-06-13")).toBeNull();
  expect(memoryAtStart("test/data", "2025-06-12")).toBeNull();
});
