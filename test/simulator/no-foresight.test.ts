/**
 * What the record says of later must not reach an earlier decision: with everything after an instant
 * replaced by noise, every decision up to it is the same.
 */
import { createHash } from "node:crypto";
import { expect, test } from "vitest";
import { createLocalCalendar } from "../../config/local-calendar.ts";
import type { SiteSettings } from "../../config/site-settings.ts";
import { step } from "../../service/control/step.ts";
import type { DaySeries } from "../../simulator/days/day-file.ts";
import { replay } from "../../simulator/replay.ts";
import { createRandom } from "../../simulator/weather/random.ts";
import { syntheticDay } from "../../simulator/weather/synthetic-day.ts";
import { simulatedSite } from "./simulated-site.ts";

const KINDS = ["clear", "broken", "broken", "overcast"] as const;
/** Noon of the last day but one, when the outlook is in use. */
const NOISY_FROM_MS = Date.parse("2026-04-12T10:00:00Z");

function outlookSite(): SiteSettings {
  const site = simulatedSite();
  const ruleCurve = { kind: "outlook", atFraction: 0.94, cautionFraction: 0.9 } as const;
  return { ...site, control: { ...site.control, ruleCurve } };
}

function daysOf(site: SiteSettings): readonly DaySeries[] {
  return KINDS.map((kind, i) =>
    syntheticDay({ site, localDate: `2026-04-1${i}`, seed: 70 + i, kind }),
  );
}

function withNoise(day: DaySeries): DaySeries {
  const random = createRandom(5);
  const columns = new Map<string, Float64Array>();
  for (const [name, values] of day.columns) {
    const noisy = values.map((value, row) =>
      (day.timesMs[row] ?? 0) < NOISY_FROM_MS ? value : value * random.between(0, 1.2),
    );
    columns.set(name, noisy);
  }
  return { ...day, columns };
}

interface Decided {
  readonly before: string;
  readonly after: string;
  readonly isByOutlook: boolean;
}

function decidedOn(site: SiteSettings, days: readonly DaySeries[]): Decided {
  const before = createHash("sha256");
  const after = createHash("sha256");
  let isByOutlook = false;
  replay({
    site,
    days,
    step,
    calendar: createLocalCalendar(site.timeZone),
    stepS: 60,
    startFraction: 0.8,
    mayBridge: false,
    plant: null,
    onDecision: (decision, { wallMs }) => {
      const isBefore = wallMs < NOISY_FROM_MS;
      (isBefore ? before : after).update(JSON.stringify(decision));
      if (isBefore) isByOutlook = decision.site.outlook !== null;
    },
  });
  return { before: before.digest("hex"), after: after.digest("hex"), isByOutlook };
}

test("noise from an instant on changes nothing that was decided before it", () => {
  const site = outlookSite();
  const days = daysOf(site);
  const plain = decidedOn(site, days);
  const noisy = decidedOn(site, days.map(withNoise));
  expect(plain.isByOutlook).toBe(true);
  expect(noisy.before).toBe(plain.before);
  expect(noisy.after).not.toBe(plain.after);
});
