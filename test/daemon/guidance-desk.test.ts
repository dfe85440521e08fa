/** The advice as the service keeps it: when it is worked out, told, and shown. */
import { beforeEach, expect, test } from "vitest";
import { tellTimes } from "../../service/cli/told-times.ts";
import { createGuidanceDesk } from "../../service/guidance-desk.ts";
import type { GuidanceDesk, LastTick } from "../../service/guidance-desk.ts";
import { guidanceSchema } from "../../service/view-schemas-guidance.ts";
import { appliance, localTimeOf, seenAt } from "../control/guidance/given.ts";
import { DAY_MINUTES, liveIn, outlookSite } from "../control/outlook/given.ts";
import { createManualClock } from "../support/manual-clock.ts";
import type { Minute } from "../control/outlook/given.ts";
import type { ManualClock } from "../support/manual-clock.ts";
import { testSite } from "../support/site.ts";

const control = outlookSite();
const lived = liveIn(control, 5 * DAY_MINUTES, { clearness: () => 0.9, baseW: () => 300 });
const site = testSite({
  control,
  appliances: [appliance(), appliance({ id: "bread-oven", label: "Bread oven" })],
});
const MINUTE_MS = 60_000;

function tickAt(day: number, hour: number): LastTick {
  return tickOf(lived[day * DAY_MINUTES + hour * 60]!);
}

function tickOf(minute: Minute): LastTick {
  const observation = seenAt(minute, control);
  return { memory: minute.memory, observation, verdict: minute.decision.site };
}

function inDoubt(tick: LastTick): LastTick {
  const findings = [{ code: "telemetry-missing", measured: null, limit: null }] as const;
  return { ...tick, verdict: { ...tick.verdict, findings } };
}

let clock: ManualClock;
let desk: GuidanceDesk;
beforeEach(() => {
  clock = createManualClock();
  desk = createGuidanceDesk({ site, localTime: localTimeOf(control), clock });
});

test("before the first tick there is no advice, and why is said", () => {
  expect(desk.view()).toMatchObject({
    refusal: { code: "nothing-decided", sentence: "nothing has been decided yet" },
    appliances: [],
  });
});

test("it is told at the first tick, then every quarter of an hour", () => {
  expect(desk.ticked(tickAt(4, 12))?.appliances).toHaveLength(2);
  clock.advance(15 * MINUTE_MS - 1);
  expect(desk.ticked(tickAt(4, 12))).toBeNull();
  clock.advance(1);
  expect(desk.ticked(tickAt(4, 12))?.appliances).toHaveLength(2);
});

test("doubt is told at once, when it comes and when it goes", () => {
  desk.ticked(tickAt(4, 12));
  clock.advance(1_000);
  expect(desk.ticked(inDoubt(tickAt(4, 12)))).toMatchObject({
    refusal: { code: "site-held", sentence: "telemetry that it needs is missing or old" },
    appliances: [],
  });
  expect(desk.ticked(inDoubt(tickAt(4, 12)))).toBeNull();
  expect(desk.ticked(tickAt(4, 12))?.refusal).toBeNull();
});

test("whoever asks gets what is at most a minute old, and never what doubt has overtaken", () => {
  desk.ticked(tickAt(4, 12));
  const first = desk.view();
  expect(first.appliances[0]?.code).toBe("good-now");
  desk.ticked(tickAt(4, 22));
  expect(desk.view()).toBe(first);
  clock.advance(MINUTE_MS);
  expect(desk.view().appliances[0]?.code).toBe("so-so-battery");
  desk.ticked(inDoubt(tickAt(4, 22)));
  expect(desk.view().refusal?.code).toBe("site-held");
});

test("a site without appliances works nothing out unasked", () => {
  const none = createGuidanceDesk({
    site: testSite({ control }),
    localTime: localTimeOf(control),
    clock,
  });
  expect(none.ticked(tickAt(4, 12))).toBeNull();
  expect(none.view()).toMatchObject({ refusal: null, appliances: [] });
});

test("what it shows is all in the schema", () => {
  for (const hour of [3, 12, 22]) {
    clock.advance(MINUTE_MS);
    desk.ticked(tickAt(4, hour));
    const view = desk.view();
    expect(guidanceSchema.parse(view)).toEqual(view);
  }
});

test("how often it came true is learned from the ticks, told, and taken over", () => {
  for (let minute = 4 * DAY_MINUTES; minute < 5 * DAY_MINUTES; minute += 1) {
    clock.advance(MINUTE_MS);
    desk.ticked(tickOf(lived[minute]!));
  }
  const { days } = desk.times();
  expect(days.reduce((sum, { said }) => sum + said, 0)).toBeGreaterThan(0);
  // As a file brings it back, after more such days.
  const saved = { ...desk.times(), days: days.map(() => ({ said: 24.4, kept: 15.2 })) };
  const timesBefore: unknown = JSON.parse(JSON.stringify(saved));
  const next = createGuidanceDesk({ site, localTime: localTimeOf(control), clock, timesBefore });
  expect(next.times().days).toEqual(saved.days);
  next.ticked(tickAt(4, 12));
  const view = next.view();
  expect(guidanceSchema.parse(view)).toEqual(view);
  expect(view.appliances[0]?.confidence).toEqual({
    code: "seldom-true",
    level: "low",
    before: { saidDays: 24, trueDays: 15 },
    sentence:
      "low: such times came true on less than three days in four; " +
      "said so on 24 days before, true on 15",
  });
  const lines = tellTimes(view).split("\n");
  expect(lines.filter((line) => line.length > 80)).toEqual([]);
  expect(lines.join(" ").replaceAll(/\s+/gu, " ")).toContain(
    "said so on 24 days before, true on 15",
  );
});

test("a day's stretches go on to midnight, by the clock on the wall", () => {
  desk.ticked(tickAt(4, 12));
  const [today, tomorrow] = desk.view().appliances[0]!.days;
  expect(today?.stretches[0]).toMatchObject({ fromLocal: "12:00", grade: "good" });
  expect(today?.stretches.at(-1)?.toLocal).toBe("24:00");
  expect(tomorrow?.stretches[0]?.fromLocal).toBe("00:00");
  expect(today?.date).toBe("2026-06-25");
});

test("on the terminal it takes 80 columns and leaves nothing out", () => {
  desk.ticked(tickAt(4, 5));
  const lines = tellTimes(desk.view()).split("\n");
  expect(lines.filter((line) => line.length > 80)).toEqual([]);
  const text = lines.join(" ").replaceAll(/\s+/gu, " ");
  expect(text).toMatch(
    /Washing machine for the milk pails \(1\.00 kWh in 60 min, up to 1 kW\): bet/u,
  );
  expect(text).toContain("confidence fair: only 4 days of sky are on record");
  expect(text).toMatch(/2026-06-25 05:00-\d\d:\d0 so-so.* good.*; best at \d\d:\d0/u);
  expect(text).toContain("now: nothing is missing below the rule curve; 0.0 % straight");
});

test("on the terminal a refusal stands alone, and a site without appliances is told how", () => {
  desk.ticked(inDoubt(tickAt(4, 12)));
  expect(tellTimes(desk.view())).toMatch(
    /\nNo advice: telemetry that it needs is missing or old\.$/u,
  );
  const none = createGuidanceDesk({
    site: testSite({ control }),
    localTime: localTimeOf(control),
    clock,
  });
  none.ticked(tickAt(4, 12));
  expect(tellTimes(none.view())).toMatch(/\nNo appliance is described: they stand under guidance/u);
});
