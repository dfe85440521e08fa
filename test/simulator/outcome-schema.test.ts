import { expect, test } from "vitest";
import { loadSite } from "../../config/load.ts";
import { createLocalCalendar } from "../../config/local-calendar.ts";
import { step } from "../../service/control/step.ts";
import { replayJsonSchema } from "../../service/cli/replay-schema.ts";
import { outcomeSchema } from "../../simulator/outcome-schema.ts";
import { replay } from "../../simulator/replay.ts";
import { syntheticDay } from "../../simulator/weather/synthetic-day.ts";

const EXAMPLES = ["malga", "tasmania"];

test.each(EXAMPLES)("a real result of %s has exactly the fields of the schema", (name) => {
  const path = new URL(`../../config/examples/${name}.yaml`, import.meta.url).pathname;
  const site = loadSite({ path });
  const report = replay({
    site,
    days: [syntheticDay({ site, localDate: "2025-06-12", seed: 1, kind: "broken" })],
    step,
    calendar: createLocalCalendar(site.timeZone),
    stepS: 60,
    startFraction: 0.85,
    mayBridge: false,
    plant: null,
    onDecision: null,
  });
  const printed: unknown = JSON.parse(JSON.stringify(report));
  expect(outcomeSchema.safeParse(printed).error).toBeUndefined();
  const spoilt = { ...report, totals: { ...report.totals, wastedWh: 1 } };
  expect(outcomeSchema.safeParse(spoilt).success).toBe(false);
  const { starts, ...without } = report.totals;
  expect(starts).toBeGreaterThanOrEqual(0);
  expect(outcomeSchema.safeParse({ ...report, totals: without }).success).toBe(false);
});

test("the JSON Schema names the keys in their order", () => {
  const schema = replayJsonSchema();
  expect(schema["required"]).toEqual([
    ...[
      "formatVersion",
      "days",
      "plant",
      "settings",
      "totals",
      "loads",
      "bound",
      "range",
      "unused",
      "perDay",
    ],
  ]);
  expect(schema["additionalProperties"]).toBe(false);
});
