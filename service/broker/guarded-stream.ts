/**
 * A client's connection as the embedded broker sees it: what comes in is gauged before it is
 * parsed, and what goes out never makes anyone else wait. The broker's library waits for its
 * slowest listener; a screen that hangs would hold up the commands.
 */
import type { Socket } from "node:net";
import { Duplex } from "node:stream";
import type { GaugeFinding, PacketGauge } from "./packet-gauge.ts";

export type GuardFinding = GaugeFinding | "reads-too-slowly";

/** Unsent bytes at which a client that doesn't read is given up. */
const UNSENT_BYTES_MAX = 1_048_576;
/** How long a last word may take to leave. [ms] */
const LAST_WORD_MS = 1_000;

/** Calls `onFinding` once, and the connection is cut. */
export function guardStream(
  socket: Socket,
  gauge: PacketGauge,
  onFinding: (finding: GuardFinding) => void,
): Duplex {
  let isGivenUp = false;
  const giveUp = (finding: GuardFinding): void => {
    if (isGivenUp) return;
    isGivenUp = true;
    onFinding(finding);
    socket.destroy();
  };
  const send = (bytes: Uint8Array): void => {
    if (socket.destroyed || isGivenUp) return;
    socket.write(bytes);
    if (socket.writableLength > UNSENT_BYTES_MAX) giveUp("reads-too-slowly");
  };
  const stream = new Duplex({
    writableHighWaterMark: UNSENT_BYTES_MAX,
    read: () => socket.resume(),
    write(bytes: Buffer, _encoding, done) {
      send(bytes);
      done();
    },
    // One packet is many small writes, which must leave as one.
    writev(parts: { readonly chunk: Buffer }[], done) {
      send(Buffer.concat(parts.map(({ chunk }) => chunk)));
      done();
    },
    destroy(error, done) {
      // A refusal has just been written, and has to reach the client.
      socket.setTimeout(LAST_WORD_MS, () => socket.destroy());
      socket.destroySoon();
      done(error);
    },
  });
  socket.on("data", (bytes: Buffer) => {
    if (stream.destroyed) return;
    const finding = gauge.take(bytes);
    if (finding !== null) giveUp(finding);
    else if (!stream.push(bytes)) socket.pause();
  });
  socket.on("error", () => socket.destroy());
  socket.on("close", () => stream.destroy());
  return stream;
}
