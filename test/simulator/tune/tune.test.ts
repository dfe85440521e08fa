import { describe, expect, test } from "vitest";
import { loadSite } from "../../../config/load.ts";
import { createLocalCalendar } from "../../../config/local-calendar.ts";
import type { SiteSettings } from "../../../config/site-settings.ts";
import { step } from "../../../service/control/step.ts";
import type { DaySeries } from "../../../simulator/days/day-file.ts";
import type { OutcomeReport } from "../../../simulator/outcome.ts";
import { replay } from "../../../simulator/replay.ts";
import { tune } from "../../../simulator/tune/tune.ts";
import { syntheticDay } from "../../../simulator/weather/synthetic-day.ts";

const PATH = new URL("../../evidence/malga.yaml", import.meta.url).pathname;
const load = (...overrides: readonly string[]): SiteSettings => loadSite({ path: PATH, overrides });

const days = ["clear", "broken", "broken", "clear", "broken", "clear", "broken", "clear"] as const;
const site = load();
const series = days.map((kind, i) =>
  syntheticDay({ site, localDate: `2025-06-1${i}`, seed: i, kind }),
);

async function runAll(
  sites: readonly SiteSettings[],
  some: readonly DaySeries[],
): Promise<readonly OutcomeReport[]> {
  return sites.map((one) =>
    replay({
      site: one,
      days: some,
      step,
      calendar: createLocalCalendar(one.timeZone),
      stepS: 60,
      startFraction: 0.8,
      mayBridge: false,
      plant: null,
      onDecision: null,
    }),
  );
}

const candidate = (set: string) => ({ set: [set], site: load(set) });

describe("a planted optimum: the tank's set-point is far too low in one, and right in the other", () => {
  // Half of the day's heat fits under 45 °C; under 68 °C nearly all of it does.
  const poor = load("loads.water-heater.tank.surplus=45 °C");
  const values = [45, 50, 56, 62, 68].map((c) =>
    candidate(`loads.water-heater.tank.surplus=${String(c)} °C`),
  );

  test("is found, and shown on days that it was not looked for on", async () => {
    const { front, daysTuned, daysHeldOut, now, tried } = await tune({
      now: poor,
      candidates: values,
      days: series.map((day) => [day]),
      runAll,
    });
    expect([daysTuned, daysHeldOut, tried]).toEqual([6, 2, 5]);
    expect(front[0]?.set).toEqual(["loads.water-heater.tank.surplus=68 °C"]);
    expect(front[0]?.tuned.usefulDivertedWh).toBeGreaterThan(now.tuned.usefulDivertedWh * 1.1);
    // Figures of the held-out days are those of a replay of these days alone.
    const [again] = await runAll([values[4]?.site ?? poor], series.slice(-2));
    expect(front[0]?.heldOut.usefulDivertedWh).toBe(again?.totals.usefulDivertedWh);
  });

  test("is the same when it is looked for again", async () => {
    const find = () =>
      tune({ now: poor, candidates: values.slice(0, 2), days: series.map((day) => [day]), runAll });
    expect(await find()).toEqual(await find());
  });
});

test("where nothing is better than now, nothing is chosen", async () => {
  const candidates = [candidate("loads.water-heater.tank.surplus=45 °C")];
  const { chosen } = await tune({
    now: site,
    candidates,
    days: series.map((day) => [day]),
    runAll,
  });
  expect(chosen).toBeNull();
});

test("one day is too few to hold one out", async () => {
  await expect(
    tune({ now: site, candidates: [], days: [series.slice(0, 1)], runAll }),
  ).rejects.toThrow(/tune-days/u);
});
