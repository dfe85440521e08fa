/** Recorded days are worked out in threads: one at a time, within bounds, and ended at any moment. */
import { afterEach, expect, test } from "vitest";
import { DAY_WITHIN_MS, dayThreads } from "../../service/day-thread.ts";
import type { WhatIfView } from "../../service/what-if-desk.ts";
import { createWhatIfDesk } from "../../service/what-if-desk.ts";
import { createMemoryLog } from "../support/log.ts";
import { createManualClock } from "../support/manual-clock.ts";
import { until } from "../support/until.ts";

/** A program for the thread, in place of the one that replays. */
const program = (text: string) =>
  new URL(
    `data:text/javascript,${encodeURIComponent(
      `import { parentPort as port } from "node:worker_threads"; port.once("message", (order) => {${text}});`,
    )}`,
  );
const ENDLESS =
  'port.postMessage({ kind: "progress", progress: { stage: "inferring", share: 0.2 } }); for (;;);';
const ANSWER = 'port.postMessage({ kind: "what-if", result: order });';
const QUESTION = { localDay: 20_000, changes: [{ key: "ruleCurve.at", value: "90 %" }] };

let close = (): Promise<void> => Promise.resolve();
afterEach(() => close());

function deskWith(text: string) {
  const clock = createManualClock();
  const { log, lines } = createMemoryLog();
  const start = dayThreads({ program: program(text), clock });
  const desk = createWhatIfDesk({ path: "site.yaml", overrides: ["site.tick=5s"], start, log });
  ({ close } = desk);
  const begun = (): WhatIfView => {
    const view = desk.begin(QUESTION);
    if (view === null) throw new Error("busy");
    return view;
  };
  const ended = async (id: string): Promise<WhatIfView | null> => {
    await until(() => desk.view(id)?.state !== "running");
    return desk.view(id);
  };
  return { desk, clock, lines, begun, ended };
}

test("the thread is told all that it needs, and its answer is kept under the id", async () => {
  const { begun, ended } = deskWith(ANSWER);
  const { id, state } = begun();
  expect(state).toBe("running");
  expect(await ended(id)).toMatchObject({
    id,
    state: "done",
    problems: [],
    result: { kind: "what-if", path: "site.yaml", overrides: ["site.tick=5s"], ...QUESTION },
  });
});

test("one at a time: a second is refused until the first is over", async () => {
  const { desk, begun, ended } = deskWith(ENDLESS);
  const { id } = begun();
  expect(desk.begin(QUESTION)).toBeNull();
  desk.cancel(id);
  expect(await ended(id)).toMatchObject({ state: "cancelled" });
  expect(desk.begin(QUESTION)).not.toBeNull();
});

test("it tells how far it is, and a busy thread is ended at once", async () => {
  const { desk, begun } = deskWith(ENDLESS);
  const { id } = begun();
  await until(() => desk.view(id)?.progress.share === 0.2);
  expect(desk.cancel(id)).toMatchObject({ state: "cancelled", result: null });
  expect(desk.cancel(id)).toMatchObject({ state: "cancelled" });
  expect(desk.cancel("another")).toBeNull();
});

test("past its time it is ended, and the log says so", async () => {
  const { desk, clock, lines, begun, ended } = deskWith(ENDLESS);
  const { id } = begun();
  await until(() => desk.view(id)?.progress.share === 0.2);
  clock.advance(DAY_WITHIN_MS - 1);
  expect(desk.view(id)?.state).toBe("running");
  clock.advance(1);
  expect(await ended(id)).toMatchObject({ state: "failed", problems: ["It took too long."] });
  expect(lines).toContain("warn a recorded day could not be replayed");
});

test("past its memory it is ended, and the service lives on", async () => {
  const { begun, ended } = deskWith(
    "const kept = []; for (;;) kept.push(new Array(1e5).fill({}));",
  );
  const { id } = begun();
  expect(await ended(id)).toMatchObject({
    state: "failed",
    problems: ["It took more memory than it may."],
  });
});

test.each([
  ['throw new Error("broken");', "broken"],
  ["process.exit(0);", "It ended without an answer."],
  ['port.postMessage({ kind: "file", text: "" });', "another kind of answer"],
])("a failure of ours, %s, is one of this day alone", async (text, reason) => {
  const { desk, begun, ended } = deskWith(text);
  const { id } = begun();
  expect(await ended(id)).toMatchObject({ state: "failed", problems: [reason], result: null });
  expect(desk.begin(QUESTION)).not.toBeNull();
});

test("what the user got wrong is told in words", async () => {
  const { begun, ended } = deskWith('port.postMessage({ kind: "refused", problems: ["no key"] });');
  const { id } = begun();
  expect(await ended(id)).toMatchObject({ state: "refused", problems: ["no key"] });
});

test("the last few are kept, older ones are not", async () => {
  const { desk, begun, ended } = deskWith(ANSWER);
  const ids: string[] = [];
  for (let count = 0; count < 5; count += 1) {
    const { id } = begun();
    await ended(id);
    ids.push(id);
  }
  expect(ids.map((id) => desk.view(id)?.state ?? null)).toEqual([
    null,
    ...["done", "done", "done", "done"],
  ]);
});

test("a day file is written beside it, one at a time", async () => {
  const { desk } = deskWith('port.postMessage({ kind: "file", text: `day ${order.localDay}` });');
  const [first, second] = await Promise.all([desk.dayFile(1), desk.dayFile(2)]);
  expect([first, second]).toEqual([{ kind: "file", text: "day 1" }, { kind: "busy" }]);
  expect(await desk.dayFile(3)).toEqual({ kind: "file", text: "day 3" });
});

test("a day file that fails or is refused says so", async () => {
  const failing = deskWith('throw new Error("broken");');
  expect(await failing.desk.dayFile(1)).toEqual({ kind: "failed" });
  const refusing = deskWith('port.postMessage({ kind: "refused", problems: ["none"] });');
  expect(await refusing.desk.dayFile(1)).toEqual({ kind: "refused", problems: ["none"] });
});

test("closing ends what is under way", async () => {
  const { desk, begun, ended } = deskWith(ENDLESS);
  const { id } = begun();
  const file = desk.dayFile(1);
  await desk.close();
  expect(await ended(id)).toMatchObject({ state: "cancelled" });
  expect(await file).toEqual({ kind: "failed" });
});
