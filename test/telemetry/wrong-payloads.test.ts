/** Every odd message through the real table: ignored for the right reason, or read rightly. */
import { expect, test } from "vitest";
import { DEFAULT_WALL_MS } from "../support/manual-clock.ts";
import { setUpTable } from "../support/table.ts";
import { expectedCounts, messageCount, ODD_SIGNALS, payloadRows } from "./payload-rows.ts";

const ROWS = payloadRows(DEFAULT_WALL_MS);
const { table } = setUpTable(ODD_SIGNALS);

/** The rows are one story: the topics of the wildcard and the stamps follow one another. */
test.each(ROWS)("$name", ({ topic, bytes, becomes, isTwice }) => {
  const before = table.ignoredCounts();
  const sums = table.views().reduce((sum, view) => sum + view.ignoredCount, 0);
  // A publisher's RETAIN comes as 0 to whoever was subscribed already (MQTT 5.0, 3.3.1.3).
  const times = isTwice ? 2 : 1;
  for (let time = 0; time < times; time += 1) {
    table.receive({ topic, payload: bytes, isRetained: false });
  }
  const after = table.ignoredCounts();
  const risen = Object.entries(after).filter(
    ([reason, count]) => count > before[reason as keyof typeof before],
  );
  if ("ignored" in becomes) {
    expect(risen).toEqual([[becomes.ignored, before[becomes.ignored] + 1]]);
    const isMapped = becomes.ignored !== "unmapped-topic";
    const own = table.views().reduce((sum, view) => sum + view.ignoredCount, 0);
    expect(own).toBe(sums + (isMapped ? 1 : 0));
    return;
  }
  expect(risen).toEqual([]);
  const read = table.views().find(({ sensors }) => sensors[0]?.topics.includes(topic));
  expect(read?.value).toBe(becomes.value);
  expect(Object.is(read?.value, -0)).toBe(false);
});

test("all were said, and the counters add up", () => {
  expect(ROWS.length).toBeGreaterThanOrEqual(100);
  expect(new Set(ROWS.map(({ name }) => name)).size).toBe(ROWS.length);
  expect(table.receivedCount()).toBe(messageCount(ROWS));
  expect(table.ignoredCounts()).toMatchObject(expectedCounts(ROWS));
  expect(Object.keys(expectedCounts(ROWS)).length).toBe(14);
});
