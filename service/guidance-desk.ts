/**
 * Works the advice out when somebody asks, and every few minutes for those who listen. Never within
 * a tick's decision: the decision must not wait for it.
 */
import type { LocalInstant } from "./control/guidance/prospect.ts";
import type { SiteSettings } from "../config/site-settings.ts";
import type { Clock } from "./clock.ts";
import type { SiteVerdict } from "./control/decision.ts";
import { restoredTimes } from "./control/guidance/restored-times.ts";
import { timesSaid } from "./control/guidance/say-times.ts";
import { lookAgain } from "./control/guidance/times-record.ts";
import type { TimesLook, TimesRecord } from "./control/guidance/times-record.ts";
import { guidanceOf } from "./control/guidance/guidance.ts";
import type { Guidance, GuidanceInput } from "./control/guidance/guidance.ts";
import type { Memory } from "./control/memory.ts";
import type { Observation } from "./control/observation.ts";
import { SITE_CODES } from "./control/site-codes.ts";
import { buildGuidanceView } from "./guidance-view.ts";
import type { GuidanceView } from "./guidance-view.ts";

/** What a tick has left behind. */
export interface LastTick {
  readonly memory: Memory;
  readonly observation: Observation;
  readonly verdict: SiteVerdict;
}

export interface GuidanceDesk {
  /** What is valid now; worked out anew if what is there is older than a minute. */
  readonly view: () => GuidanceView;
  /** After a tick. @returns The advice, if it is time to tell it again; else null. */
  readonly ticked: (tick: LastTick) => GuidanceView | null;
  /** How often what was said came true: the same object while nothing is new. */
  readonly times: () => TimesRecord;
}

export interface GuidanceDeskOptions {
  readonly site: SiteSettings;
  readonly localTime: (wallMs: number) => LocalInstant;
  readonly clock: Clock;
  /** What a desk before this one, or a run before, has left of its record; absent: nothing. */
  readonly timesBefore?: unknown;
}

/** Whoever asks gets it fresher than whoever listens. */
const TELL_EVERY_MS = 900_000;
const FRESH_MS = 60_000;
const NOTHING: Guidance = {
  refusal: { code: "nothing-decided", finding: null },
  recordDays: 0,
  advice: [],
};

export function createGuidanceDesk(options: GuidanceDeskOptions): GuidanceDesk {
  const { site, localTime, clock } = options;
  let last: LastTick | null = null;
  let kept: {
    readonly view: GuidanceView;
    readonly atMs: number;
    readonly isHeld: boolean;
  } | null = null;
  let toldAtMs = 0;
  let times = restoredTimes(options.timesBefore);

  const workOut = (): GuidanceView => {
    const nowMs = clock.monotonicMs();
    const input = last === null ? null : inputOf(last, options, times);
    const guidance = input === null ? NOTHING : guidanceOf(input);
    if (input !== null) times = timesSaid(times, guidance, input);
    const wallMs = last === null ? clock.wallMs() : last.observation.wallMs;
    const view = buildGuidanceView({ site, wallMs, localTime, guidance, input });
    kept = { view, atMs: nowMs, isHeld: last !== null && isHeld(last) };
    return view;
  };

  return {
    view() {
      const isNew = kept === null || clock.monotonicMs() - kept.atMs >= FRESH_MS;
      const hasTurned = kept !== null && last !== null && kept.isHeld !== isHeld(last);
      return kept === null || isNew || hasTurned ? workOut() : kept.view;
    },
    ticked(tick) {
      const isFirst = last === null;
      const wasHeld = last !== null && isHeld(last);
      last = tick;
      if (site.appliances.length === 0) return null;
      times = lookAgain(times, lookOf(tick, site));
      const isDue = isFirst || clock.monotonicMs() - toldAtMs >= TELL_EVERY_MS;
      if (!isDue && wasHeld === isHeld(tick)) return null;
      toldAtMs = clock.monotonicMs();
      return workOut();
    },
    times: () => times,
  };
}

function lookOf({ memory, observation, verdict }: LastTick, { control }: SiteSettings): TimesLook {
  const { acceptance } = memory.outlook;
  return { observation, site: verdict, settings: control, acceptance };
}

/** Something is wrong with the site: no advice holds from here on. */
function isHeld({ verdict }: LastTick): boolean {
  return verdict.findings.some(({ code }) => SITE_CODES[code].isInterlock);
}

function inputOf(
  { memory, observation, verdict }: LastTick,
  { site, localTime }: GuidanceDeskOptions,
  times: TimesRecord,
): GuidanceInput {
  return {
    memory,
    observation,
    site: verdict,
    settings: site.control,
    appliances: site.appliances,
    localTimeAt: localTime,
    times,
  };
}
