/** Several runs over the same days share what they have in common, and come out as each alone. */
import { beforeAll, expect, test } from "vitest";
import { loadSite } from "../../config/load.ts";
import { createLocalCalendar } from "../../config/local-calendar.ts";
import type { SiteSettings } from "../../config/site-settings.ts";
import { step } from "../../service/control/step.ts";
import type { DaySeries } from "../../simulator/days/day-file.ts";
import { keepFeeds } from "../../simulator/kept-feeds.ts";
import { keepReferences } from "../../simulator/kept-references.ts";
import { emptyInput } from "../../simulator/plant-input.ts";
import { plantSettings } from "../../simulator/plant/plant-settings.ts";
import { createReference } from "../../simulator/reference.ts";
import { replay } from "../../simulator/replay.ts";
import type { KeptBetweenRuns } from "../../simulator/replay.ts";
import { syntheticDay } from "../../simulator/weather/synthetic-day.ts";

const MALGA = new URL("../../config/examples/malga.yaml", import.meta.url).pathname;
const KINDS = ["broken", "overcast", "clear"] as const;

const OVER = {
  timeZone: "Europe/Rome",
  sitePlace: { latitudeDeg: 44.2, longitudeDeg: 6.9 },
  stepS: 60,
  mayBridge: false,
};
const AT = { dtS: 60, wallMs: Date.UTC(2026, 3, 1, 9), localDay: 20_544, localMinute: 660 };

let days: readonly DaySeries[];

beforeAll(() => {
  const site = loadSite({ path: MALGA });
  days = KINDS.map((kind, seed) =>
    syntheticDay({ site, localDate: `2026-04-0${seed + 1}`, seed, kind }),
  );
});

interface Trial {
  readonly site: SiteSettings;
  readonly stepS: number;
  readonly startFraction: number;
  readonly mayBridge: boolean;
}

function trial(overrides: readonly string[], changes: Partial<Trial> = {}): Trial {
  const site = loadSite({ path: MALGA, overrides });
  return { site, stepS: 60, startFraction: 0.6, mayBridge: false, ...changes };
}

function run(tried: Trial, kept?: KeptBetweenRuns) {
  const calendar = createLocalCalendar(tried.site.timeZone);
  const shared = kept === undefined ? {} : { kept };
  return replay({ ...tried, days, step, calendar, plant: null, onDecision: null, ...shared });
}

test("each of several trials comes out as it does alone, whatever was tried before it", () => {
  const kept = { feedOf: keepFeeds(), referenceOf: keepReferences() };
  const trials = [
    trial([]),
    trial(["ruleCurve={ mode: fixed, at: 88 % }"]),
    trial(["loads.0.minRun=20 min"]),
    trial(["battery.sunsetTarget=70 %"]),
    trial(["battery.capacity=300 Ah"]),
    trial(["arrays.0.peak=3 kW"]),
    trial(["site.latitude=-42"]),
    trial(["site.timeZone=Australia/Hobart"]),
    trial([], { stepS: 30 }),
    trial([], { startFraction: 0.9 }),
    trial([]),
  ];
  for (const tried of trials) expect(run(tried, kept)).toEqual(run(tried));
});

test("a shed that only its loads tell from the one before is not simulated again", () => {
  const settings = plantSettings(loadSite({ path: MALGA }));
  const options = { settings, startFraction: 0.6, sunsetTargetFraction: 0.9 };
  const used = { ...emptyInput(settings), baseAcW: 2000 };
  const unused = emptyInput(settings);
  const alone = createReference(options);
  const referenceOf = keepReferences();
  const first = referenceOf(options, OVER);
  alone.step(used, AT, OVER.sitePlace);
  first.step(used, AT, OVER.sitePlace);
  expect(first.truth.socFraction).toBe(alone.truth.socFraction);
  expect(alone.truth.socFraction).toBeLessThan(0.6);
  const fewer = { ...settings, loads: settings.loads.slice(1) };
  const second = referenceOf({ ...options, settings: fewer }, OVER);
  // Nothing is drawn here, and yet it is told what the first one came to.
  second.step(unused, AT, OVER.sitePlace);
  expect(second.truth).toEqual(first.truth);
  expect(() => second.step(unused, AT, OVER.sitePlace)).toThrow("the same days");
});

test("a shed that anything else tells from the one before is simulated", () => {
  const settings = plantSettings(loadSite({ path: MALGA }));
  const options = { settings, startFraction: 0.6, sunsetTargetFraction: 0.9 };
  const referenceOf = keepReferences();
  const smaller = { ...settings, arrays: [] };
  for (const [changed, over] of [
    [{ ...options, sunsetTargetFraction: 0.8 }, OVER],
    [{ ...options, startFraction: 0.61 }, OVER],
    [{ ...options, settings: smaller }, OVER],
    [options, { ...OVER, timeZone: "Australia/Hobart" }],
    [options, { ...OVER, sitePlace: { latitudeDeg: -42, longitudeDeg: 147 } }],
    [options, { ...OVER, stepS: 30 }],
    [options, { ...OVER, mayBridge: true }],
  ] as const) {
    const base = referenceOf(options, OVER);
    base.step({ ...emptyInput(settings), baseAcW: 2000 }, AT, OVER.sitePlace);
    const other = referenceOf(changed, over);
    other.step(emptyInput(settings), AT, OVER.sitePlace);
    expect(other.truth.socFraction).toBeGreaterThan(base.truth.socFraction);
  }
});
