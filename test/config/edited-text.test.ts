import { expect, test } from "vitest";
import { editedLines } from "../../config/edited-text.ts";

const TEXT = `# Goat dairy
ruleCurve: { mode: fixed, at: 94 % } # charge above this may be spent
loads:
  - id: water-heater
    start: { aboveRuleCurve: 2 %, for: 2 min } # not at once
`;

test("values change in their place, and comments stay", () => {
  const overrides = ["ruleCurve.at=90 %", "loads.water-heater.start.aboveRuleCurve=10 %"];
  expect(editedLines(TEXT, overrides)).toEqual([
    {
      line: 2,
      before: "ruleCurve: { mode: fixed, at: 94 % } # charge above this may be spent",
      after: "ruleCurve: { mode: fixed, at: 90 % } # charge above this may be spent",
    },
    {
      line: 5,
      before: "    start: { aboveRuleCurve: 2 %, for: 2 min } # not at once",
      after: "    start: { aboveRuleCurve: 10 %, for: 2 min } # not at once",
    },
  ]);
});

test("a key that does not stand in the file has no line", () => {
  expect(editedLines(TEXT, ["loads.water-heater.priority=2"])).toBeNull();
});
