/** MQTT 5.0 (OASIS Standard), 4.7.1 and 4.7.2, whose own examples stand in the tables. */
import fc from "fast-check";
import { expect, test } from "vitest";
import { isCovered, isTopicFilter } from "../../config/topic-filters.ts";

test.each([
  ["sport/tennis/player1/#", "sport/tennis/player1", true],
  ["sport/tennis/player1/#", "sport/tennis/player1/ranking", true],
  ["sport/tennis/player1/#", "sport/tennis/player1/score/wimbledon", true],
  ["sport/#", "sport", true],
  ["sport/tennis/+", "sport/tennis/player1", true],
  ["sport/tennis/+", "sport/tennis/player1/ranking", false],
  ["sport/+", "sport", false],
  ["sport/+", "sport/", true],
  ["+/+", "/finance", true],
  ["/+", "/finance", true],
  ["+", "/finance", false],
  ["#", "$SYS/broker", false],
  ["+/monitor/Clients", "$SYS/monitor/Clients", false],
  ["$SYS/#", "$SYS/broker", true],
])("filter %s and topic %s: %s", (filter, topic, isMatch) => {
  expect(isCovered(topic, filter)).toBe(isMatch);
});

test.each([
  ["shed/+", "shed/+", true],
  ["shed/+", "shed/#", false],
  ["shed/#", "shed/+/set", true],
  ["shed/#", "#", false],
  ["shed/#", "+/pump", false],
  ["+/pump", "shed/+", false],
  ["#", "+/+", true],
  ["#", "#", true],
  ["+", "#", false],
])("what %s allows covers what %s asks for: %s", (allowed, asked, isWithin) => {
  expect(isCovered(asked, allowed)).toBe(isWithin);
});

test.each([
  ["shed/+/set", true],
  ["#", true],
  ["+", true],
  ["shed/#", true],
  ["/", true],
  ["", false],
  ["shed#", false],
  ["shed/#/set", false],
  ["shed+", false],
  ["shed/+set", false],
  ["shed/\0", false],
])("%j is a filter: %s", (text, isRight) => {
  expect(isTopicFilter(text)).toBe(isRight);
});

const level = fc.constantFrom("shed", "pump", "set", "");
const topic = fc.array(level, { minLength: 1, maxLength: 4 }).map((levels) => levels.join("/"));
const filter = fc
  .tuple(fc.array(fc.oneof(level, fc.constant("+")), { minLength: 1, maxLength: 3 }), fc.boolean())
  .map(([levels, isOpen]) => [...levels, ...(isOpen ? ["#"] : [])].join("/"));

/** Another way to match: by a regular expression. */
function isMatched(by: string, text: string): boolean {
  const pattern = by
    .split("/")
    .map((part) => (part === "+" ? "[^/]*" : part))
    .join("/")
    .replace(/(^|\/)#$/u, (_, slash: string) => (slash === "" ? ".*" : "(/.*)?"));
  return new RegExp(`^${pattern}$`, "u").test(text);
}

test("a topic is covered where a regular expression made from the filter matches it", () => {
  fc.assert(
    fc.property(topic, filter, (text, by) => {
      expect(isCovered(text, by)).toBe(isMatched(by, text));
    }),
    { numRuns: 2_000 },
  );
});

test("nothing that a covered filter lets through escapes the filter that covers it", () => {
  let covered = 0;
  fc.assert(
    fc.property(filter, filter, topic, (asked, allowed, text) => {
      if (!isCovered(asked, allowed) || !isCovered(text, asked)) return;
      covered += 1;
      expect(isCovered(text, allowed)).toBe(true);
    }),
    { numRuns: 5_000 },
  );
  expect(covered).toBeGreaterThan(20);
});
