/** Guidance in the closed site of the outlook's tests. */
import type { Appliance } from "../../../service/control/guidance/appliance.ts";
import { guidanceOf } from "../../../service/control/guidance/guidance.ts";
import type { Guidance, GuidanceInput } from "../../../service/control/guidance/guidance.ts";
import { NO_TIMES } from "../../../service/control/guidance/times-record.ts";
import type { LocalInstant } from "../../../service/control/guidance/prospect.ts";
import type { Observation } from "../../../service/control/observation.ts";
import type { ControlSettings } from "../../../service/control/settings.ts";
import { fresh, observe, MINUTE_MS } from "../given.ts";
import { DAY_MINUTES } from "../outlook/given.ts";
import type { Minute } from "../outlook/given.ts";

export const HOUR_MS = 3_600_000;

export function appliance(over: Partial<Appliance> = {}): Appliance {
  return {
    id: "pail-washer",
    label: "Washing machine for the milk pails",
    profile: [{ powerW: 1000, forMs: HOUR_MS }],
    latestFinishMinute: null,
    windows: [],
    ...over,
  };
}

/** The closed site's clock: no change of the clocks, midnight as `liveIn` has it. */
export function localTimeOf(settings: ControlSettings): (wallMs: number) => LocalInstant {
  const noonMs = observe(settings, 0).wallMs;
  const midnightMs = noonMs - (DAY_MINUTES / 2) * MINUTE_MS;
  return (wallMs) => {
    const minute = Math.floor((wallMs - midnightMs) / MINUTE_MS);
    const day = Math.floor(minute / DAY_MINUTES);
    return { localDay: 20_625 + day, localMinute: minute - day * DAY_MINUTES };
  };
}

/** What the service would see at that minute of a lived run. */
export function seenAt(
  { minute, socFraction }: Pick<Minute, "minute" | "socFraction">,
  settings: ControlSettings,
): Observation {
  const localTimeAt = localTimeOf(settings);
  const noon = observe(settings, 0);
  const wallMs = noon.wallMs + (minute - DAY_MINUTES / 2) * MINUTE_MS;
  return {
    ...observe(settings, minute * MINUTE_MS, { socFraction }),
    ...localTimeAt(wallMs),
    wallMs,
    battery: { ...noon.battery, socFraction: fresh(socFraction) },
  };
}

export function inputAt(
  lived: Minute,
  settings: ControlSettings,
  appliances: readonly Appliance[] = [appliance()],
): GuidanceInput {
  return {
    memory: lived.memory,
    observation: seenAt(lived, settings),
    site: lived.decision.site,
    settings,
    appliances,
    localTimeAt: localTimeOf(settings),
    times: NO_TIMES,
  };
}

export function guidanceAt(
  lived: Minute,
  settings: ControlSettings,
  appliances: readonly Appliance[] = [appliance()],
): Guidance {
  return guidanceOf(inputAt(lived, settings, appliances));
}
