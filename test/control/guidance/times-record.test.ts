/** The record of what was said and what came of it, in the closed site of the outlook's tests. */
import { describe, expect, test } from "vitest";
import { guidanceOf } from "../../../service/control/guidance/guidance.ts";
import { restoredTimes } from "../../../service/control/guidance/restored-times.ts";
import { SAID_MAX, timesSaid } from "../../../service/control/guidance/say-times.ts";
import { KINDS, kindOf } from "../../../service/control/guidance/time-kinds.ts";
import {
  HALF_LIFE_DAYS,
  lookAgain,
  NO_TIMES,
} from "../../../service/control/guidance/times-record.ts";
import type { TimesLook, TimesRecord } from "../../../service/control/guidance/times-record.ts";
import { fresh, unmapped } from "../given.ts";
import { DAY_MINUTES, liveIn, outlookSite } from "../outlook/given.ts";
import type { Minute } from "../outlook/given.ts";
import { appliance, inputAt, seenAt } from "./given.ts";

const settings = outlookSite();
const DAYS = 9;
const clear = (): number => 0.9;
/** Until the last day's noon as on the days before. */
const isBefore = (minute: number): boolean => minute < 8.5 * DAY_MINUTES;
const calm = (): number => 300;
const bright = liveIn(settings, (DAYS + 1) * DAY_MINUTES, { clearness: clear, baseW: calm });
const broken = liveIn(settings, DAYS * DAY_MINUTES, {
  clearness: (minute) => (isBefore(minute) ? 0.9 : 0.05),
  baseW: (minute) => (isBefore(minute) ? 300 : 1200),
});

function lookAt(minute: Minute): TimesLook {
  const { acceptance } = minute.memory.outlook;
  return {
    observation: seenAt(minute, settings),
    site: minute.decision.site,
    settings,
    acceptance,
  };
}

type Change = (look: TimesLook, minute: number) => TimesLook;
const asItIs: Change = (look) => look;

/** As the service does it: a look each minute, and every quarter of an hour what is said. */
function learned(lived: readonly Minute[], change = asItIs, before = NO_TIMES): TimesRecord {
  let times = before;
  for (const minute of lived) {
    const look = change(lookAt(minute), minute.minute);
    times = lookAgain(times, look);
    if (minute.minute % 15 !== 0) continue;
    const { observation, site } = look;
    const input = { ...inputAt(minute, settings), observation, site, times };
    times = timesSaid(times, guidanceOf(input), input);
  }
  return times;
}

const day = (number: number, lived = bright): readonly Minute[] =>
  lived.slice(number * DAY_MINUTES, (number + 1) * DAY_MINUTES);
const total = ({ days }: TimesRecord): number => days.reduce((sum, { said }) => sum + said, 0);

describe("a day of clear sky", () => {
  const noon = learned(day(7).slice(0, DAY_MINUTES / 2));
  const evening = learned(day(7));
  const atNow = kindOf("now", true);

  test("what is called good is written down once an hour, and judged after sunset", () => {
    const hours = new Set(noon.said.map(({ startMs }) => Math.floor(startMs / 3_600_000)));
    const kinds = new Set(noon.said.map(({ kind }) => KINDS[kind]!.horizon));
    expect(hours.size).toBeGreaterThan(3);
    expect([...kinds].sort()).toEqual(["later-today", "now", "tomorrow"]);
    expect(total(noon)).toBe(0);
    expect(evening.days[atNow]).toEqual({ said: 1, kept: 1 });
    // What was said of tomorrow waits.
    expect(evening.said.length).toBeGreaterThan(0);
    expect(evening.said.every(({ kind }) => KINDS[kind]!.horizon === "tomorrow")).toBe(true);
  });

  test("nothing but the sky of that day makes it come true", () => {
    const dull = learned(day(8, broken));
    const kept = dull.days.reduce((sum, one) => sum + one.kept, 0);
    expect(total(dull)).toBeGreaterThan(0);
    expect(kept).toBeLessThan(total(dull));
  });

  test("the next day adds one, and what there was fades by its half-life", () => {
    const next = learned(day(8), asItIs, evening);
    expect(next.days[atNow]!.said).toBeCloseTo(1 + 0.5 ** (1 / HALF_LIFE_DAYS), 12);
    const later = learned(day(8), asItIs, {
      ...evening,
      fadedOnDay: evening.fadedOnDay! + 1 - HALF_LIFE_DAYS,
    });
    expect(later.days[atNow]!.said).toBeCloseTo(1.5, 12);
    // A day that is said to be earlier fades nothing, and is not counted twice afterwards.
    const back = learned(day(8), asItIs, { ...evening, fadedOnDay: evening.fadedOnDay! + 99 });
    expect(back.days[atNow]!.said).toBe(2);
    expect(back.fadedOnDay).toBe(evening.fadedOnDay! + 99);
  });

  test("a record that was saved at noon goes on as if nothing had been", () => {
    const saved: unknown = JSON.parse(JSON.stringify(noon));
    const after = learned(day(7).slice(DAY_MINUTES / 2), asItIs, restoredTimes(saved));
    expect(after.days).toEqual(evening.days);
  });
});

test("what is said rests on nothing that comes later, nor on another day's end", () => {
  const until = 8.5 * DAY_MINUTES;
  const before = learned(bright.slice(7 * DAY_MINUTES, until));
  expect(learned(broken.slice(7 * DAY_MINUTES, until))).toEqual(before);
  // The days that are over are not judged anew by what came after them.
  const evening = learned(bright.slice(7 * DAY_MINUTES, 8 * DAY_MINUTES));
  const night = learned(broken.slice(until, until + 60), asItIs, { ...evening, look: null });
  expect(night.days).toBe(evening.days);
});

test("a day on which the generator ran is none on which anything came true", () => {
  const generator: Change = (look, minute) => {
    const isGeneratorRunning = fresh(minute >= 7.75 * DAY_MINUTES);
    return { ...look, observation: { ...look.observation, isGeneratorRunning } };
  };
  expect(learned(day(7), generator).days[kindOf("now", true)]).toEqual({ said: 1, kept: 0 });
});

test("while nothing can be judged, nothing fades", () => {
  const known = { ...NO_TIMES, days: NO_TIMES.days.with(0, { said: 9, kept: 8 }), fadedOnDay: 1 };
  const said = [{ kind: 0, startMs: 1, sunsetMs: 2, stepW: [100] }];
  const first = lookAgain({ ...known, said }, lookAt(day(7)[600]!));
  const after = lookAgain(first, lookAt(day(7)[610]!));
  expect(after).toMatchObject({ days: known.days, fadedOnDay: 1, said: [] });
});

describe("nothing is learned", () => {
  const at = (hour: number, minute: number): boolean =>
    minute >= 7 * DAY_MINUTES + hour * 60 && minute < 7 * DAY_MINUTES + hour * 60 + 10;
  /** Ten minutes at three in the afternoon, which all that starts before goes through. */
  const hole =
    (over: (look: TimesLook) => TimesLook): Change =>
    (look, minute) =>
      at(15, minute) ? over(look) : look;
  const observed =
    (over: (look: TimesLook) => Partial<TimesLook["observation"]>) =>
    (look: TimesLook): TimesLook => ({
      ...look,
      observation: { ...look.observation, ...over(look) },
    });
  const judgedAs =
    (over: Partial<TimesLook["site"]>) =>
    (look: TimesLook): TimesLook => ({ ...look, site: { ...look.site, ...over } });
  const missing = { code: "telemetry-missing", measured: null, limit: null } as const;
  const unseen = ({ observation }: TimesLook) => ({
    sources: observation.sources.map((one) => ({ ...one, powerW: unmapped })),
  });
  /** Said before the hole, and on its way through it. */
  const morning = day(7).slice(0, 14 * 60);
  const rest = day(7).slice(14 * 60);
  const unsaid = rest.filter(({ minute }) => minute % 15 !== 0);
  const ofNow = ({ days }: TimesRecord): number =>
    days[kindOf("now", true)]!.said + days[kindOf("now", false)]!.said;
  const before = learned(morning);

  test("unless there is a hole", () => {
    expect(before.said.length).toBeGreaterThan(0);
    expect(ofNow(learned(unsaid, asItIs, before))).toBe(1);
  });

  test.each([
    ["without what an array gives", observed(unseen)],
    ["without everyday use", judgedAs({ basePowerW: null })],
    ["without a charge", judgedAs({ socFraction: null })],
    ["by our own count", judgedAs({ socSource: "count" })],
    ["while something is wrong", judgedAs({ findings: [missing] })],
    ["while the clock is in doubt", observed(() => ({ isWallClockPlausible: false }))],
  ])("%s", (_, over) => {
    const after = learned(unsaid, hole(over), before);
    expect(ofNow(after)).toBe(0);
  });

  test("but where it is not known what the sources could give, by what they do give", () => {
    const after = learned(unsaid, hole(judgedAs({ potentialLowW: null })), before);
    expect(ofNow(after)).toBe(1);
  });

  test("over an hour that the service was not there", () => {
    const after = unsaid.filter(({ minute }) => minute % DAY_MINUTES > 900);
    const gone = learned(after, asItIs, { ...before, look: null });
    expect(ofNow(gone)).toBe(0);
  });

  test("of what was under way when the wall clock was set", () => {
    const set = lookAgain(
      before,
      observed(({ observation }) => ({ wallMs: observation.wallMs + 60_000 }))(lookAt(rest[0]!)),
    );
    expect(set.said).toEqual([]);
    expect(set.seen).toEqual([]);
    const doubt = observed(() => ({ isWallClockPlausible: false }))(lookAt(rest[1]!));
    const given = lookAgain(set, doubt);
    expect(given.step).toBeNull();
    expect(lookAgain(given, doubt)).toBe(given);
    // Whether all is empty is asked of each part.
    for (const part of ["look", "step", "seen", "said"] as const) {
      const only = { ...given, [part]: before[part] };
      expect(lookAgain(only, doubt)).toEqual(given);
    }
  });

  test("and all is forgotten with the sky that it rests on", () => {
    const look = observed(() => ({ unlearn: "sky" as const }))(lookAt(rest[0]!));
    expect(lookAgain(learned(day(7)), look)).toBe(NO_TIMES);
  });
});

test("within a minute of the last look nothing is new", () => {
  const look = lookAt(day(7)[600]!);
  const once = lookAgain(NO_TIMES, look);
  expect(lookAgain(once, look)).toBe(once);
});

describe("what is not written down", () => {
  const noon = day(7)[13 * 60]!;
  const input = inputAt(noon, settings);
  const saidIn = (over: Partial<typeof input>): TimesRecord => {
    const changed = { ...input, ...over };
    return timesSaid(NO_TIMES, guidanceOf(changed), changed);
  };

  test("by night, in doubt, and what is told with a warning", () => {
    expect(saidIn({}).said.length).toBeGreaterThan(0);
    expect(saidIn({ site: { ...input.site, isDaylight: false } })).toBe(NO_TIMES);
    expect(saidIn({ site: { ...input.site, socFraction: null } })).toBe(NO_TIMES);
    expect(saidIn({ site: { ...input.site, socSource: "count" } }).said).toEqual([]);
    const sky = { ...input.memory.outlook.sky, days: [] };
    const memory = { ...input.memory, outlook: { ...input.memory.outlook, sky } };
    expect(saidIn({ memory }).said).toEqual([]);
  });

  test("a start that is not good", () => {
    const strong = appliance({ profile: [{ powerW: 1900, forMs: 6 * 3_600_000 }] });
    const said = saidIn({ appliances: [strong] }).said;
    expect(said.filter(({ startMs }) => startMs === input.observation.wallMs)).toEqual([]);
  });

  test("of a day whose sunset is not known", () => {
    const guidance = guidanceOf(input);
    const memory = { ...input.memory, outlook: { ...input.memory.outlook, clearDays: null } };
    expect(timesSaid(NO_TIMES, guidance, { ...input, memory }).said).toEqual([]);
  });

  test("more than there is room for", () => {
    const full = { ...NO_TIMES, said: Array(SAID_MAX).fill(saidIn({}).said[0]!) };
    expect(timesSaid(full, guidanceOf(input), input).said).toHaveLength(SAID_MAX);
  });
});
