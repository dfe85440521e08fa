/**
 * Watches the bytes of one MQTT connection before they are parsed. The parser would collect a
 * packet of 256 MB, if its header says so, before anyone could object.
 */
import type { Clock } from "../clock.ts";

export type GaugeFinding = "packet-too-large" | "too-many-packets" | "malformed";

export interface GaugeLimits {
  /** Body of one packet, by its header. [bytes] */
  readonly packetBytesMax: number;
  readonly packetsPerSecondMax: number;
}

export interface PacketGauge {
  /** @returns What is wrong; null: go on. */
  take(bytes: Uint8Array): GaugeFinding | null;
  setLimits(limits: GaugeLimits): void;
  /** This connection is our own: nothing is looked at any more. */
  trust(): void;
}

/** A device that comes back may say everything at once: so many seconds' worth of packets. */
const BURST_S = 2;
/** MQTT 3.1.1 (OASIS Standard), 2.2.3: the length is at most four bytes of seven bits each. */
const LENGTH_BYTES_MAX = 4;

export function createPacketGauge(clock: Clock, limitsAtFirst: GaugeLimits): PacketGauge {
  let limits = limitsAtFirst;
  let isTrusted = false;
  let tokens = BURST_S * limits.packetsPerSecondMax;
  let filledAtMs = clock.monotonicMs();
  let phase: "kind" | "length" | "body" = "kind";
  let length = 0;
  let lengthBytes = 0;
  let bodyLeft = 0;

  const pay = (): boolean => {
    const nowMs = clock.monotonicMs();
    const gained = ((nowMs - filledAtMs) / 1000) * limits.packetsPerSecondMax;
    tokens = Math.min(BURST_S * limits.packetsPerSecondMax, tokens + gained) - 1;
    filledAtMs = nowMs;
    return tokens >= 0;
  };

  const takeLength = (byte: number): GaugeFinding | null => {
    length += (byte & 0x7f) * 128 ** lengthBytes;
    lengthBytes += 1;
    if ((byte & 0x80) !== 0) return lengthBytes < LENGTH_BYTES_MAX ? null : "malformed";
    bodyLeft = length;
    phase = length === 0 ? "kind" : "body";
    if (length > limits.packetBytesMax) return "packet-too-large";
    return pay() ? null : "too-many-packets";
  };

  return {
    take(bytes) {
      if (isTrusted) return null;
      for (let at = 0; at < bytes.length;) {
        if (phase === "body") {
          const skipped = Math.min(bodyLeft, bytes.length - at);
          at += skipped;
          bodyLeft -= skipped;
          if (bodyLeft === 0) phase = "kind";
          continue;
        }
        if (phase === "kind") {
          // What kind of packet it is, the parser looks at.
          phase = "length";
          length = 0;
          lengthBytes = 0;
        } else {
          const finding = takeLength(bytes[at] ?? 0);
          if (finding !== null) return finding;
        }
        at += 1;
      }
      return null;
    },
    setLimits(next) {
      limits = next;
      tokens = BURST_S * limits.packetsPerSecondMax;
    },
    trust() {
      isTrusted = true;
    },
  };
}
