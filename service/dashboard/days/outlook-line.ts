/** What the rest of this day is likely to bring, as a line on its ribbon and in words. */
import type { StateView } from "../../state-view.ts";
import type { SiteView } from "../../site-view.ts";
import type { Format } from "../format.ts";

/** From the battery's charge now to that at sunset, if no opportunity load runs. */
export interface OutlookLine {
  readonly fromMin: number;
  readonly toMin: number;
  readonly fromFraction: number;
  readonly toFraction: number;
}

const MINUTE_MS = 60_000;

export interface DaySpan {
  /** Its first instant. [ms] */
  readonly fromMs: number;
  readonly lengthMin: number;
}

/** @returns null where there is no outlook, it is another day, or the sun has set on it. */
export function outlookLine({ at, verdict }: StateView, day: DaySpan): OutlookLine | null {
  const outlook = verdict?.outlook ?? null;
  const fromFraction = verdict?.socFraction ?? null;
  if (outlook === null || fromFraction === null) return null;
  const minuteOf = (ms: number): number => (ms - day.fromMs) / MINUTE_MS;
  const [fromMin, toMin] = [minuteOf(Date.parse(at)), minuteOf(outlook.sunsetMs)];
  if (fromMin < 0 || toMin > day.lengthMin || fromMin >= toMin) return null;
  return { fromMin, toMin, fromFraction, toFraction: outlook.sunsetSocFraction };
}

export function outlookText({ verdict }: StateView, site: SiteView, format: Format): string {
  const outlook = verdict?.outlook ?? null;
  if (outlook === null) return "";
  const { sunsetMs, expectedWh, cautiousWh, baseWh, sunsetSocFraction, startsAtMs } = outlook;
  const starts = site.loads.flatMap(({ label }, index) => {
    const startMs = startsAtMs[index] ?? null;
    return startMs === null ? [] : [`${label} about ${format.time(instant(startMs))}`];
  });
  const battery = `the battery would then be at ${format.share(sunsetSocFraction)}`;
  const loads = starts.length === 0 ? "" : ` Likely to start: ${starts.join(", ")}.`;
  return (
    `Outlook to sunset at ${format.time(instant(sunsetMs))}: the sources are likely to give ` +
    `${format.energy(expectedWh)}, ${format.energy(cautiousWh)} on the cautious side; everyday ` +
    `use takes ${format.energy(baseWh)}; ${battery} if no opportunity load runs.${loads}`
  );
}

function instant(ms: number): string {
  return new Date(ms).toISOString();
}
