/** A link between daemon and broker that a test can cut, freeze and mend. */
import { connect, createServer } from "node:net";
import type { AddressInfo, Socket } from "node:net";

export interface Cable {
  readonly url: string;
  /** Both ends notice at once; nobody gets through until mended. */
  cut(): void;
  /** Nobody notices: what is sent disappears. */
  freeze(): void;
  mend(): void;
  /** What each client has asked for so far, in the order in which they came. [s] */
  keepAlivesS(): readonly number[];
  close(): Promise<void>;
}

export async function layCable(brokerPort: number): Promise<Cable> {
  const sockets = new Set<Socket>();
  const keepAlivesS: number[] = [];
  let state: "whole" | "cut" | "frozen" = "whole";
  const destroyAll = (): void => {
    for (const socket of sockets) socket.destroy();
  };
  const carry = (from: Socket, to: Socket): void => {
    sockets.add(from);
    from.on("data", (chunk) => {
      if (state === "whole") to.write(chunk);
    });
    from.on("error", () => undefined);
    from.on("close", () => {
      sockets.delete(from);
      // A frozen cable tells the other end nothing; a whole one the last words, too.
      if (state === "whole") to.end();
      else if (state === "cut") to.destroy();
    });
  };
  const server = createServer((near) => {
    if (state === "cut") {
      near.destroy();
      return;
    }
    const far = connect(brokerPort, "127.0.0.1");
    noteKeepAlive(near, keepAlivesS);
    carry(near, far);
    carry(far, near);
  });
  await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve));
  const { port } = server.address() as AddressInfo;
  return {
    url: `mqtt://127.0.0.1:${port}`,
    cut() {
      state = "cut";
      destroyAll();
    },
    freeze() {
      state = "frozen";
    },
    mend() {
      if (state === "frozen") destroyAll();
      state = "whole";
    },
    keepAlivesS: () => keepAlivesS,
    async close() {
      destroyAll();
      await new Promise((resolve) => server.close(resolve));
    },
  };
}

/**
 * MQTT 3.1.1 and 5.0 (OASIS Standards), 3.1: CONNECT is 0x10, its length in one to four bytes, the
 * protocol's name of six bytes, its level and its flags of one each, and the keep-alive of two.
 */
function noteKeepAlive(client: Socket, keepAlivesS: number[]): void {
  let head = Buffer.alloc(0);
  const read = (chunk: Buffer): void => {
    head = Buffer.concat([head, chunk]);
    const lengthBytes = head.subarray(1, 5).findIndex((byte) => byte < 0x80) + 1;
    const at = 1 + lengthBytes + 6 + 1 + 1;
    if (lengthBytes === 0 || head.length < at + 2) return;
    client.off("data", read);
    if (head[0] === 0x10) keepAlivesS.push(head.readUInt16BE(at));
  };
  client.on("data", read);
}
