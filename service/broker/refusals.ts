/** What the embedded broker turned away: counted always, logged at most once a minute of a kind. */
import type { Clock } from "../clock.ts";
import type { Log } from "../log.ts";
import type { GuardFinding } from "./guarded-stream.ts";

export type Refusal =
  | GuardFinding
  | "login"
  | "client-id-taken"
  | "publish"
  | "will"
  | "subscribe"
  | "too-many-subscriptions"
  | "too-many-retained"
  | "too-many-connections"
  | "tls";

export type NoteRefusal = (refusal: Refusal, about: object) => void;

const SAY_EVERY_MS = 60_000;

export function createRefusals(clock: Clock, log: Log): NoteRefusal {
  const saidAtMs = new Map<Refusal, number>();
  const counts = new Map<Refusal, number>();
  return (refusal, about) => {
    const count = (counts.get(refusal) ?? 0) + 1;
    counts.set(refusal, count);
    const nowMs = clock.monotonicMs();
    if (nowMs - (saidAtMs.get(refusal) ?? -SAY_EVERY_MS) < SAY_EVERY_MS) return;
    saidAtMs.set(refusal, nowMs);
    log.warn({ refusal, count, ...about }, "the embedded broker refused a client");
  };
}
