/** Ports of this machine that nobody listens on, and that nobody is given by chance. */
import { createServer } from "node:net";

/**
 * Below what Linux (`ip_local_port_range`, from 32768 on) and IANA's dynamic range hand out: neither
 * a connection nor a server without a port of its own takes one of these between two steps of a
 * test, and a client that calls one in vain never meets itself.
 */
const FIRST = 15_000;
const COUNT = 17_000;
const ATTEMPTS = 100;
/** Two that one test asks for before it uses the first of them must differ. */
const given = new Set<number>();

export async function freePort(): Promise<number> {
  for (let attempt = 0; attempt < ATTEMPTS; attempt += 1) {
    const port = FIRST + Math.floor(Math.random() * COUNT);
    if (given.has(port) || !(await isFree(port))) continue;
    given.add(port);
    return port;
  }
  throw new Error(`no free port from ${FIRST} on`);
}

function isFree(port: number): Promise<boolean> {
  const server = createServer();
  return new Promise((resolve) => {
    server.once("error", () => resolve(false));
    server.listen(port, "127.0.0.1", () => server.close(() => resolve(true)));
  });
}
