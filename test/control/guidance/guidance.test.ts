/** Guidance on a site that has lived some days: what is told, and when nothing is. */
import { describe, expect, test } from "vitest";
import { createLocalCalendar } from "../../../config/local-calendar.ts";
import type { SiteVerdict } from "../../../service/control/decision.ts";
import {
  explainConfidence,
  explainCost,
  explainLight,
  explainRefusal,
} from "../../../service/control/guidance/explain-guidance.ts";
import {
  ADVICE_CODES,
  CONFIDENCE_CODES,
  REFUSAL_CODES,
} from "../../../service/control/guidance/guidance-codes.ts";
import { lightOf } from "../../../service/control/guidance/advice.ts";
import { kindOf } from "../../../service/control/guidance/time-kinds.ts";
import { NO_TIMES } from "../../../service/control/guidance/times-record.ts";
import { confidenceIn, guidanceOf } from "../../../service/control/guidance/guidance.ts";
import type { Guidance, GuidanceInput } from "../../../service/control/guidance/guidance.ts";
import { prospectOf, STEP_MS } from "../../../service/control/guidance/prospect.ts";
import type { Start } from "../../../service/control/guidance/starts.ts";
import { startsOf, coursesOf } from "../../../service/control/guidance/starts.ts";
import { clearDaysAt } from "../../../service/control/outlook/clear-days.ts";
import type { Observation } from "../../../service/control/observation.ts";
import { lost, site } from "../given.ts";
import { DAY_MINUTES, liveIn, outlookSite } from "../outlook/given.ts";
import type { Minute } from "../outlook/given.ts";
import { appliance, guidanceAt, HOUR_MS, inputAt, localTimeOf, seenAt } from "./given.ts";

const always = (value: number) => () => value;
const settings = outlookSite();
/** Seventeen days: from the fourteenth on the record alone is believed. */
const lived = liveIn(settings, 17 * DAY_MINUTES, { clearness: always(0.9), baseW: always(300) });
const localTimeAt = localTimeOf(settings);

function at(of: readonly Minute[], day: number, hour: number): Minute {
  return of[day * DAY_MINUTES + hour * 60]!;
}

/** Codes that the tests above have ended in. */
const reached = new Set<string>();

function only(guidance: Guidance) {
  expect(guidance.refusal).toBeNull();
  expect(guidance.advice).toHaveLength(1);
  const [advice] = guidance.advice;
  reached.add(advice!.light.code);
  return advice!;
}

function told(guidance: Guidance): string {
  return explainLight(only(guidance).light, localTimeAt);
}

describe("on a clear day", () => {
  test("noon is good, and most of it straight from the sun", () => {
    const advice = only(guidanceAt(at(lived, 15, 12), settings));
    expect(advice.light).toMatchObject({ code: "good-now", measured: 1 });
    expect(explainLight(advice.light, localTimeAt)).toBe(
      "now is good: 100.0 % of it comes straight from the sources",
    );
    expect(explainCost(advice.now)).toBe(
      "nothing is missing below the rule curve; 100.0 % straight from the sources; " +
        "nothing is taken from other loads",
    );
  });

  test("before sunrise it is better later, and the time is that of the first good stretch", () => {
    const { light, days } = only(guidanceAt(at(lived, 15, 4), settings));
    expect(light.code).toBe("good-later");
    const good = days[0]!.stretches.find(({ grade }) => grade === "good")!;
    expect(light.to?.atMs).toBe(good.fromMs);
    expect(told(guidanceAt(at(lived, 15, 4), settings))).toMatch(/^better from 0[789]:\d0 on$/u);
  });

  test("after sunset it points to tomorrow, and says that the battery would carry it", () => {
    const text = told(guidanceAt(at(lived, 15, 22), settings));
    expect(text).toMatch(
      /^now is so-so: the reserve holds, but only 0\.0 % .*; good tomorrow from 0[789]:\d0 on$/u,
    );
  });

  test("today and tomorrow are covered without a gap, each stretch unlike its neighbours", () => {
    const { days } = only(guidanceAt(at(lived, 15, 8), settings));
    expect(days.map(({ localDay }) => localDay)).toEqual([20_640, 20_641]);
    for (const { stretches, best } of days) {
      expect(best).not.toBeNull();
      for (const [place, stretch] of stretches.entries()) {
        const next = stretches[place + 1];
        if (next === undefined) continue;
        expect(next.fromMs).toBe(stretch.toMs);
        expect(next.grade).not.toBe(stretch.grade);
      }
    }
    expect(days[1]!.stretches[0]!.fromMs).toBe(days[0]!.stretches.at(-1)!.toMs);
  });

  test("the best start is a good one, and none of its day costs less", () => {
    const input = inputAt(at(lived, 15, 5), settings);
    const [day] = only(guidanceOf(input)).days;
    const { best, stretches } = day!;
    const good = stretches.filter(({ grade }) => grade === "good");
    expect(good.some(({ fromMs, toMs }) => best!.atMs >= fromMs && best!.atMs < toMs)).toBe(true);
    expect(best!.start.costWh).toBeLessThan(25);
  });
});

describe("on middling days", () => {
  const mixed = liveIn(settings, 4 * DAY_MINUTES, { clearness: always(0.5), baseW: always(500) });

  test("what would be short is said with its share of the battery, and no good time invented", () => {
    expect(told(guidanceAt(at(mixed, 3, 18), settings))).toMatch(
      /^not today: it would cost the night reserve \d\.\d %, on the cautious side \d\.\d %; no /u,
    );
  });

  test("a plain sentence for the middle that holds and the cautious side that does not", () => {
    const advice = only(guidanceAt(at(mixed, 3, 11), settings));
    expect(advice.light.code).toBe("so-so-unsure");
    expect(explainLight(advice.light, localTimeAt)).toMatch(
      /so-so: it should do, but on the cautious side it would cost the night reserve \d\.\d %;/u,
    );
    expect(explainCost(advice.now)).toMatch(
      /^0\.0 % missing below the rule curve, on the cautious side \d\.\d %; 100\.0 % straight/u,
    );
  });
});

describe("hours and room", () => {
  test("once its hours are over, tomorrow's are named", () => {
    const early = appliance({ latestFinishMinute: 11 * 60 });
    const guidance = guidanceAt(at(lived, 15, 12), settings, [early]);
    expect(told(guidance)).toMatch(
      /^not today any more: its hours are over; good tomorrow from 0[789]:\d0 on$/u,
    );
    expect(explainCost(only(guidance).now)).toBe("outside its hours");
  });

  test("what the inverter cannot carry beside everyday use is not for today", () => {
    const heavy = appliance({ profile: [{ powerW: 7_950, forMs: HOUR_MS }] });
    const guidance = guidanceAt(at(lived, 15, 12), settings, [heavy]);
    expect(told(guidance)).toBe(
      "not today: beside everyday use the inverter cannot carry it; " +
        "no good time is seen for tomorrow yet",
    );
    expect(explainCost(only(guidance).now)).toMatch(/^more than the inverter can carry/u);
  });

  test("where only later is so-so, it says from when on", () => {
    const evening = appliance({ windows: [{ fromMinute: 22 * 60, toMinute: 24 * 60 }] });
    expect(told(guidanceAt(at(lived, 15, 12), settings, [evening]))).toBe(
      "not now; from 22:00 on it is so-so; no good time is seen for tomorrow yet",
    );
  });
});

describe("in doubt there is no advice", () => {
  const noon = inputAt(at(lived, 15, 12), settings);
  const observed = (over: Partial<Observation>): GuidanceInput => ({
    ...noon,
    observation: { ...noon.observation, ...over },
  });
  const judged = (over: Partial<SiteVerdict>): GuidanceInput => ({
    ...noon,
    site: { ...noon.site, ...over },
  });
  const source = noon.observation.sources[0]!;
  const outlook = noon.memory.outlook;
  const remembered = (over: Partial<typeof outlook>): GuidanceInput => ({
    ...noon,
    memory: { ...noon.memory, outlook: { ...outlook, ...over } },
  });
  const finding = { code: "telemetry-missing", measured: null, limit: null } as const;
  const rows = {
    "a clock that cannot be right": [
      observed({ isWallClockPlausible: false }),
      "clock-implausible",
    ],
    "old telemetry": [judged({ findings: [finding] }), "site-held"],
    "an unknown state of charge": [judged({ socFraction: null }), "soc-unknown"],
    "an array that is not heard": [
      observed({ sources: [{ ...source, powerW: lost(900) }] }),
      "sources-unseen",
    ],
    "everyday use that is not known": [
      remembered({ base: { ...outlook.base, seen: outlook.base.seen.map(() => 1) } }),
      "use-unknown",
    ],
    "no clear days": [remembered({ clearDays: null }), "use-unknown"],
    "clear days of yesterday": [
      remembered({ clearDays: { ...outlook.clearDays!, localDay: 20_639 } }),
      "no-sunset",
    ],
    "a sun that does not set": [
      remembered({
        clearDays: {
          ...outlook.clearDays!,
          tomorrow: { ...outlook.clearDays!.tomorrow, sunsetMs: null },
        },
      }),
      "no-sunset",
    ],
  } as const;

  test.each(Object.entries(rows))("%s", (_name, [input, code]) => {
    const { refusal, advice } = guidanceOf(input);
    expect(advice).toEqual([]);
    expect(refusal?.code).toBe(code);
    expect(explainRefusal(refusal!).length).toBeGreaterThan(10);
  });

  test("a finding that is only told does not silence it", () => {
    const disagrees = { code: "soc-disagrees", measured: 0.9, limit: 0.8 } as const;
    expect(guidanceOf(judged({ findings: [disagrees] })).refusal).toBeNull();
  });

  test("every reason has a case, save that nothing was decided yet", () => {
    const covered = new Set<string>(Object.values(rows).map(([, code]) => code));
    expect([...covered, "nothing-decided"].sort()).toEqual(Object.keys(REFUSAL_CODES).sort());
  });
});

describe("confidence", () => {
  const noon = inputAt(at(lived, 15, 12), settings);
  const good = only(guidanceOf(noon)).now;
  const withDays = (days: number): GuidanceInput => {
    const { outlook } = noon.memory;
    const sky = { ...outlook.sky, days: outlook.sky.days.slice(0, days) };
    return { ...noon, memory: { ...noon.memory, outlook: { ...outlook, sky } } };
  };
  const of = (start: Partial<Start>, input: GuidanceInput = noon) =>
    confidenceIn({ ...good, ...start }, input.observation.wallMs, input);
  /** Of starts now: so many days on which they were said, and came true. */
  const withKept = (holdsInDoubt: boolean, said: number, kept: number): GuidanceInput => {
    const days = NO_TIMES.days.with(kindOf("now", holdsInDoubt), { said, kept });
    return { ...noon, times: { ...NO_TIMES, days } };
  };
  const rows = {
    "often-true": of({ holdsInDoubt: false }, withKept(false, 20, 20)),
    "less-often-true": of({ holdsInDoubt: true }, withKept(true, 20, 16)),
    "seldom-true": of({ holdsInDoubt: true }, withKept(true, 20, 12)),
    doubtful: of({ holdsInDoubt: true }),
    cautious: of({ holdsInDoubt: false }),
    "fixed-curve": of({ holdsInDoubt: true }, { ...noon, settings: site() }),
    "few-days": of({ holdsInDoubt: true }, withDays(13)),
    unsure: of({ grade: "so-so", isCautiousBelow: true }),
    "own-count": of({}, { ...noon, site: { ...noon.site, socSource: "count" } }),
    "no-record": of({}, withDays(3)),
  };

  test("each code has its case, and the least that can be said is told", () => {
    for (const [code, found] of Object.entries(rows)) expect(found).toBe(code);
    expect(Object.keys(rows).sort()).toEqual(Object.keys(CONFIDENCE_CODES).sort());
    expect(explainConfidence("few-days", 13, null)).toBe("fair: only 13 days of sky are on record");
    expect(explainConfidence("doubtful", 30, { said: 24, kept: 22 })).toBe(
      "high: it holds unless the sky is duller than on 19 days in 20; " +
        "said so on 24 days before, true on 22",
    );
  });

  test("of a costly or closed start nothing is said", () => {
    expect(of({ grade: "costly" })).toBeNull();
    expect(of({ grade: "closed" })).toBeNull();
  });

  test("what is seldom true is low under any curve; a so-so start has no record", () => {
    const seldom = withKept(true, 20, 12);
    expect(of({ holdsInDoubt: true }, { ...seldom, settings: site() })).toBe("seldom-true");
    expect(of({ grade: "so-so", holdsInDoubt: false }, withKept(false, 20, 12))).toBe("cautious");
  });

  test("a monitor that disagrees with the count is doubtful", () => {
    const disagrees = { code: "soc-disagrees", measured: 0.9, limit: 0.8 } as const;
    const input = { ...noon, site: { ...noon.site, findings: [disagrees] } };
    expect(of({}, input)).toBe("own-count");
  });
});

test("under a fixed curve it works as well, with less confidence", () => {
  const fixed = site();
  const days = liveIn(fixed, 4 * DAY_MINUTES, { clearness: always(0.9), baseW: always(300) });
  const guidance = guidanceAt(at(days, 3, 12), fixed);
  expect(only(guidance).light.code).toBe("good-now");
  const input = inputAt(at(days, 3, 12), fixed);
  expect(confidenceIn(only(guidance).now, input.observation.wallMs, input)).toBe("no-record");
});

test("it knows nothing of what is still to come", () => {
  const upTo = 3 * DAY_MINUTES + 11 * 60;
  const day = { clearness: always(0.9), baseW: always(300) };
  const noise = (minute: number) => (minute > upTo ? 0.05 + ((minute * 7919) % 89) / 100 : 0.9);
  const as = liveIn(settings, 4 * DAY_MINUTES, day);
  const other = liveIn(settings, 4 * DAY_MINUTES, { ...day, clearness: noise });
  expect(other.at(-1)!.socFraction).not.toBe(as.at(-1)!.socFraction);
  for (const minute of [3 * DAY_MINUTES, upTo - 30, upTo]) {
    expect(guidanceAt(other[minute]!, settings)).toEqual(guidanceAt(as[minute]!, settings));
  }
});

describe("the prospect", () => {
  const noon = at(lived, 15, 12);
  const observation = seenAt(noon, settings);
  const { outlook, loads } = noon.memory;
  const clearDays = outlook.clearDays!;
  const input = { outlook, clearDays, observation, settings, loads, fullOnDay: null, localTimeAt };

  test("reaches to tomorrow's sunset, by way of today's", () => {
    const { sunsetSteps, isDay, fromMs } = prospectOf(input)!;
    const [first, last] = sunsetSteps;
    expect(fromMs + first! * STEP_MS).toBeGreaterThanOrEqual(clearDays.today.sunsetMs!);
    expect(fromMs + (first! - 1) * STEP_MS).toBeLessThan(clearDays.today.sunsetMs!);
    expect(isDay).toHaveLength(last!);
    // Of the step in which the sun sets, less than half may be day.
    expect(isDay[first! - 2]).toBe(true);
    expect(isDay[first! + 1]).toBe(false);
  });

  test("the sides lie in order, sun and curve", () => {
    const { middle, cautious, doubtful } = prospectOf(input)!;
    for (const step of [0, 10, 60, 120]) {
      expect(middle.netW[step]).toBeGreaterThanOrEqual(cautious.netW[step]!);
      expect(cautious.netW[step]).toBeGreaterThanOrEqual(doubtful.netW[step]!);
      expect(middle.curve[step]).toBeLessThanOrEqual(cautious.curve[step]!);
      expect(cautious.curve[step]).toBeLessThanOrEqual(doubtful.curve[step]!);
    }
  });

  test("the fewer hours are left, the more each may differ from what is usual for it", () => {
    const { sunsetMs } = clearDays.today;
    /** Spreads of an hour that the doubtful side counts with now. */
    const spreadsAt = (wallMs: number): number => {
      const doubtfulW = (spreadW: number): number => {
        const base = { ...outlook.base, spreadW: outlook.base.spreadW.map(() => spreadW) };
        const now = { ...observation, wallMs };
        const found = prospectOf({ ...input, observation: now, outlook: { ...outlook, base } });
        return found!.doubtful.netW[1]!;
      };
      return (doubtfulW(0) - doubtfulW(100)) / 100;
    };
    const hoursBefore = (hours: number): number => spreadsAt(sunsetMs! - hours * 3_600_000);
    // 1.645 standard deviations of a normal distribution: one in twenty lies beyond; by √n.
    // A prospect begins with the step in which now lies, at most ten minutes ago.
    expect(hoursBefore(1)).toBeLessThanOrEqual(1.645);
    expect(hoursBefore(1)).toBeGreaterThan(1.645 / Math.sqrt(7 / 6));
    expect(hoursBefore(4)).toBeLessThanOrEqual(1.645 / 2);
    expect(hoursBefore(4)).toBeGreaterThan(1.645 / Math.sqrt(25 / 6));
    expect(hoursBefore(0.3)).toBeCloseTo(1.645, 6);
  });

  test("after a day without sunset it follows the next one", () => {
    const today = { ...clearDays.today, sunriseMs: null, sunsetMs: null };
    const { sunsetSteps, isDay } = prospectOf({ ...input, clearDays: { ...clearDays, today } })!;
    expect(sunsetSteps).toHaveLength(1);
    expect(isDay[0]).toBe(false);
  });

  test("asks for a full battery while a full charge is due, and only then", () => {
    const battery = { ...settings.battery, fullChargeEveryDays: 7 };
    const asked = (fullDaysAgo: number) =>
      prospectOf({
        ...input,
        settings: { ...settings, battery },
        fullOnDay: observation.localDay - fullDaysAgo,
      })!.completedAt;
    expect(asked(1)).toBeNull();
    expect(asked(8)).toBe(1);
  });
});

describe("on the days on which the clocks change", () => {
  const calendar = createLocalCalendar("Europe/Rome");
  const noon = at(lived, 15, 12);
  const early = appliance({ latestFinishMinute: 12 * 60 });

  /** Starts of the day after `date`, asked for on its evening, that its hours allow. */
  function openTomorrow(date: string): readonly { fromMs: number; minute: number }[] {
    const wallMs = Date.parse(`${date}T20:00:00+00:00`);
    const observation = { ...seenAt(noon, settings), wallMs, ...calendar(wallMs) };
    const clearDays = clearDaysAt(null, observation, settings);
    const prospect = prospectOf({
      outlook: noon.memory.outlook,
      clearDays,
      observation,
      settings,
      loads: noon.memory.loads,
      fullOnDay: null,
      localTimeAt: calendar,
    })!;
    const input = {
      prospect,
      socFraction: 0.95,
      nowMs: wallMs,
      inverterEfficiency: 0.92,
      inverterW: 8000,
      localTimeAt: calendar,
    };
    const starts = startsOf(early, coursesOf(input), input);
    return starts.flatMap((start, step) => {
      const { localDay, localMinute } = prospect.localTimes[step]!;
      const isOpen = start.grade !== "closed" && localDay === observation.localDay + 1;
      return isOpen ? [{ fromMs: prospect.fromMs + step * STEP_MS, minute: localMinute }] : [];
    });
  }

  // A run of an hour that is done by noon: from midnight to eleven, by the clock on the wall.
  test.each([
    ["2026-03-27", 67],
    ["2026-03-28", 61],
    ["2026-10-24", 73],
  ])("the day after %s has %i such starts", (date, count) => {
    const open = openTomorrow(date);
    expect(open).toHaveLength(count);
    expect(open[0]?.minute).toBe(0);
    expect(open.at(-1)?.minute).toBe(11 * 60);
  });
});

test("a reserve that is short with or without it is told as such", () => {
  const input = inputAt(at(lived, 15, 12), settings);
  const { now } = only(guidanceOf(input));
  const short = { ...now, grade: "so-so", isCautiousBelow: true, cautiousMissing: 0 } as const;
  const prospect = { fromMs: 0, localTimes: [localTimeAt(0)] };
  const { localDay } = localTimeAt(0);
  const light = lightOf([short], { prospect, localDay });
  reached.add(light.code);
  expect(explainLight(light, localTimeAt)).toBe(
    "now is so-so: on the cautious side the night reserve is short, with it or without; " +
      "no good time is seen for tomorrow yet",
  );
});

test("every code of the light was reached above", () => {
  expect([...reached].sort()).toEqual(Object.keys(ADVICE_CODES).sort());
});
