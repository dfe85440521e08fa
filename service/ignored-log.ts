/** Says that messages could not be used, and why; at once, then at most once a minute. */
import type { Log } from "./log.ts";

const EVERY_MS = 60_000;

type Counts = Readonly<Record<string, number>>;

/** @returns To be called with the counts since the start, as often as one likes. */
export function createIgnoredLog(log: Log): (counts: Counts, nowMs: number) => void {
  let saidAtMs = Number.NEGATIVE_INFINITY;
  let said: Counts = {};
  return (counts, nowMs) => {
    if (nowMs - saidAtMs < EVERY_MS) return;
    const news = Object.entries(counts)
      .map(([reason, count]): [string, number] => [reason, count - (said[reason] ?? 0)])
      .filter(([, count]) => count > 0);
    if (news.length === 0) return;
    saidAtMs = nowMs;
    said = { ...counts };
    log.warn({ reasons: Object.fromEntries(news) }, "messages could not be used");
  };
}
