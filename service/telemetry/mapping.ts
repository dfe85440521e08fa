/** Which signals a topic carries, and the values that one message gives them. */
import type { SignalSettings } from "../../config/site-settings.ts";
import { decodeSignal, openPayload } from "./payload.ts";
import type { Decoded } from "./payload.ts";

export interface MappedValue {
  readonly signal: SignalSettings;
  readonly decoded: Decoded;
}

export interface Mapping {
  /** Each once, in the order of the settings. */
  readonly topics: readonly string[];
  /** Empty for a topic that is not mapped. */
  decode(topic: string, bytes: Uint8Array): readonly MappedValue[];
}

export function createMapping(signals: readonly SignalSettings[]): Mapping {
  const byTopic = new Map<string, SignalSettings[]>();
  for (const signal of signals) {
    const already = byTopic.get(signal.topic);
    if (already === undefined) byTopic.set(signal.topic, [signal]);
    else already.push(signal);
  }
  return {
    topics: [...byTopic.keys()],
    decode(topic, bytes) {
      const mapped = byTopic.get(topic);
      if (mapped === undefined) return [];
      const payload = openPayload(bytes);
      return mapped.map((signal) => ({ signal, decoded: decodeSignal(payload, signal) }));
    },
  };
}
