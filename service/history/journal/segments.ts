/** Files of the journal: `2026-06-15-001.journal`, a new one for each day and each start. */
import { readdirSync, statSync, unlinkSync } from "node:fs";
import { join } from "node:path";

const DAY_MS = 86_400_000;
const NAME = /^(.+)-(\d{3,})\.journal$/;

export interface Segment {
  readonly path: string;
  readonly day: string;
  readonly number: number;
}

/** @returns `2026-06-15`; a day that no calendar has is named by its number. */
export function dayName(localDay: number): string {
  const date = new Date(localDay * DAY_MS);
  return Number.isNaN(date.getTime()) ? `day${localDay}` : date.toISOString().slice(0, 10);
}

/** Oldest first. */
export function listSegments(folder: string): Segment[] {
  const found: Segment[] = [];
  for (const name of readdirSync(folder)) {
    const match = NAME.exec(name);
    if (match === null) continue;
    const [, day = "", number = ""] = match;
    found.push({ path: join(folder, name), day, number: Number(number) });
  }
  return found.sort((a, b) => compareText(a.day, b.day) || a.number - b.number);
}

function compareText(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0;
}

export function nextSegment(folder: string, day: string): Segment {
  const last = listSegments(folder).findLast((segment) => segment.day === day);
  const number = (last?.number ?? 0) + 1;
  return { path: join(folder, `${day}-${String(number).padStart(3, "0")}.journal`), day, number };
}

/**
 * Deletes what is past its limit, the oldest first, and never the newest segment.
 *
 * Days are counted, not compared with today: a wrong clock adds one day and so drops one at most.
 */
export function dropOldSegments(
  folder: string,
  limits: { readonly keptDays: number; readonly keptBytes: number },
): void {
  const segments = listSegments(folder);
  const days = [...new Set(segments.map(({ day }) => day))];
  const keptDays = new Set(days.slice(-limits.keptDays));
  let sum = 0;
  for (const [age, segment] of segments.reverse().entries()) {
    sum += statSync(segment.path).size;
    const isKept = keptDays.has(segment.day) && sum <= limits.keptBytes;
    if (age > 0 && !isKept) unlinkSync(segment.path);
  }
}
