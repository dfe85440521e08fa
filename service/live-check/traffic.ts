/** What went over the broker while somebody listened: by topic, bounded, none of it trusted. */
import type { IncomingMessage } from "../broker/connection.ts";

export interface TopicTraffic {
  readonly topic: string;
  liveCount: number;
  retainedCount: number;
  /** Arrival of the first and the last live message. [ms] */
  firstMs: number;
  lastMs: number;
  /** Of the last message. */
  payload: Uint8Array;
}

export interface Traffic {
  note(message: IncomingMessage, nowMs: number): void;
  of(topic: string): TopicTraffic | null;
  topics(): readonly string[];
}

/** Strangers must not fill the memory. */
const TOPICS_MAX = 2_000;
/** A payload larger than the service reads is not kept either. [byte] */
const PAYLOAD_MAX = 16_384;

export function createTraffic(): Traffic {
  const heard = new Map<string, TopicTraffic>();
  return {
    note({ topic, payload, isRetained }, nowMs) {
      let one = heard.get(topic);
      if (one === undefined) {
        if (heard.size >= TOPICS_MAX) return;
        const counts = { liveCount: 0, retainedCount: 0, firstMs: nowMs, lastMs: nowMs };
        one = { topic, ...counts, payload };
        heard.set(topic, one);
      }
      one.payload = payload.subarray(0, PAYLOAD_MAX);
      if (isRetained) {
        one.retainedCount += 1;
        return;
      }
      if (one.liveCount === 0) one.firstMs = nowMs;
      one.liveCount += 1;
      one.lastMs = nowMs;
    },
    of: (topic) => heard.get(topic) ?? null,
    topics: () => [...heard.keys()],
  };
}

/** From one live message to the next, on average. [ms] null: not two of them came */
export function intervalMs({ liveCount, firstMs, lastMs }: TopicTraffic): number | null {
  return liveCount < 2 ? null : (lastMs - firstMs) / (liveCount - 1);
}
