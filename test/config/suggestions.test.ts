import { expect, test } from "vitest";
import { editDistance, nearestWord } from "../../config/suggestions.ts";

test.each([
  ["same", "same", 0],
  ["", "abc", 3],
  ["abc", "", 3],
  ["kitten", "sitting", 3],
  ["ab", "ba", 1],
  ["minrun", "minRun", 1],
  ["capasity", "capacity", 1],
])("from %j to %j it takes %d changes", (from, to, distance) => {
  expect(editDistance(from, to)).toBe(distance);
});

test.each([
  ["minrun", "minRun"],
  ["mniRun", "minRun"],
  ["minRumm", "minRun"],
  ["zzz", undefined],
  ["", undefined],
])("nearest to %j is %j", (word, nearest) => {
  expect(nearestWord(word, ["minRest", "minRun", "power"])).toBe(nearest);
});
