import fc from "fast-check";
import { expect, test } from "vitest";
import { createPacketGauge } from "../../service/broker/packet-gauge.ts";
import type { GaugeFinding } from "../../service/broker/packet-gauge.ts";
import { createManualClock } from "../support/manual-clock.ts";

const LIMITS = { packetBytesMax: 1_000, packetsPerSecondMax: 50 };

/** MQTT 3.1.1 (OASIS Standard), 2.2.3: seven bits a byte, the lowest first. */
function packet(bodyBytes: number): Buffer {
  const length: number[] = [];
  let rest = bodyBytes;
  do {
    length.push((rest % 128) + (rest >= 128 ? 128 : 0));
    rest = Math.floor(rest / 128);
  } while (rest > 0);
  return Buffer.concat([Buffer.from([0x30, ...length]), Buffer.alloc(bodyBytes, 0xff)]);
}

function takeInPieces(bytes: Buffer, pieces: readonly number[]): GaugeFinding | null {
  const gauge = createPacketGauge(createManualClock(), LIMITS);
  let at = 0;
  for (const size of [...pieces, bytes.length]) {
    const finding = gauge.take(bytes.subarray(at, at + size));
    if (finding !== null) return finding;
    at += size;
  }
  return null;
}

/** The standard's own table 2.4 of lengths, and what lies beside our limit. */
const sizes = fc.constantFrom(0, 1, 127, 128, 999, 1_000, 1_001, 16_383, 16_384, 2_097_152);

test("however the bytes arrive, a packet over the limit is found and no other", () => {
  const found = new Set<GaugeFinding | null>();
  fc.assert(
    fc.property(
      fc.array(sizes, { minLength: 1, maxLength: 4 }),
      fc.array(fc.integer({ min: 1, max: 400 }), { maxLength: 20 }),
      (bodies, pieces) => {
        const finding = takeInPieces(Buffer.concat(bodies.map(packet)), pieces);
        found.add(finding);
        expect(finding).toBe(bodies.some((size) => size > 1_000) ? "packet-too-large" : null);
      },
    ),
    { numRuns: 300 },
  );
  expect(found.size).toBe(2);
});

test("the header is enough: the body need not come", () => {
  const gauge = createPacketGauge(createManualClock(), LIMITS);
  expect(gauge.take(Buffer.from([0x30, 0xff, 0xff, 0xff, 0x7f]))).toBe("packet-too-large");
});

test("a length of more than four bytes is no length", () => {
  const gauge = createPacketGauge(createManualClock(), LIMITS);
  expect(gauge.take(Buffer.from([0x30, 0x80, 0x80, 0x80, 0x80]))).toBe("malformed");
});

test("two seconds' worth of packets may come at once, then so many a second", () => {
  const clock = createManualClock();
  const gauge = createPacketGauge(clock, LIMITS);
  const take = (count: number): (GaugeFinding | null)[] =>
    Array.from({ length: count }, () => gauge.take(packet(0)));
  expect(take(100).filter((finding) => finding !== null)).toEqual([]);
  expect(take(1)).toEqual(["too-many-packets"]);
  clock.advance(1_000);
  // One was owed from before.
  expect(take(49).filter((finding) => finding !== null)).toEqual([]);
  expect(take(1)).toEqual(["too-many-packets"]);
});

test("our own connection is not looked at", () => {
  const gauge = createPacketGauge(createManualClock(), LIMITS);
  gauge.trust();
  expect(gauge.take(packet(2_000_000))).toBeNull();
});
