/** The books of a day: what loads without a meter took, as it was told, and as it was allotted. */
import { expect, it } from "vitest";
import { dayTable } from "../../service/history/reading/day-table.ts";

const minutes = (means: Readonly<Record<string, readonly (number | null)[]>>) =>
  dayTable(
    { minutes: [0, 1, 2], means: new Map(Object.entries(means)), chargeStages: [null, null, null] },
    [],
  );

it("counts no power of a load that rests, and so all of the rest as everyday use", () => {
  const table = minutes({
    "inverter.powerW": [900, 650, 400],
    "decision.loads.cooler.allottedW": [500, 500, 500],
    "decision.loads.cooler.drawnW": [500, 250, 0],
  });
  expect(table.loads.get("cooler")?.powerW).toEqual([500, 250, 0]);
  expect(table.loads.get("cooler")?.allottedW).toEqual([500, 500, 500]);
  expect(table.basePowerW).toEqual([400, 400, 400]);
});

it("goes by a meter where there is one, and by what was allotted on days before that was told", () => {
  const table = minutes({
    "loads.pump.powerW": [700, 710, null],
    "decision.loads.pump.allottedW": [750, 750, 750],
    "decision.loads.heater.allottedW": [1000, null, 0],
  });
  expect(table.loads.get("pump")?.powerW).toEqual([700, 710, 750]);
  expect(table.loads.get("pump")?.allottedW).toEqual([700, 710, 750]);
  expect(table.loads.get("heater")?.powerW).toEqual([1000, null, 0]);
});
