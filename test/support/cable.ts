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
  close(): Promise<void>;
}

export async function layCable(brokerPort: number): Promise<Cable> {
  const sockets = new Set<Socket>();
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
      // A frozen cable tells the other end nothing.
      if (state !== "frozen") to.destroy();
    });
  };
  const server = createServer((near) => {
    if (state === "cut") {
      near.destroy();
      return;
    }
    const far = connect(brokerPort, "127.0.0.1");
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
    async close() {
      destroyAll();
      await new Promise((resolve) => server.close(resolve));
    },
  };
}
