/** A real Mosquitto on a port of its own, without persistence, open to this machine alone. */
import { spawn } from "node:child_process";
import type { ChildProcess } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { connect, createServer } from "node:net";
import { tmpdir } from "node:os";
import { join } from "node:path";

export interface Mosquitto {
  readonly port: number;
  readonly url: string;
  /** Ends it; what it held in memory is gone. */
  stop(): Promise<void>;
}

const READY_WITHIN_MS = 15_000;

/** @param port - To come back on; without it a free one. */
export async function startMosquitto(port?: number): Promise<Mosquitto> {
  const ownPort = port ?? (await freePort());
  const folder = mkdtempSync(join(tmpdir(), "bywash-mosquitto-"));
  const file = join(folder, "mosquitto.conf");
  writeFileSync(
    file,
    [
      `listener ${ownPort} 127.0.0.1`,
      "allow_anonymous true",
      "persistence false",
      "log_dest stderr",
      "",
    ].join("\n"),
  );
  const given = process.env["MOSQUITTO"] ?? "";
  const broker = spawn(given === "" ? "mosquitto" : given, ["-c", file], { stdio: "pipe" });
  let said = "";
  broker.stderr.on("data", (chunk: Buffer) => (said += chunk.toString()));
  const ended = new Promise<void>((resolve) => {
    broker.once("exit", () => resolve());
    broker.once("error", (error) => {
      said += error.message;
      resolve();
    });
  });
  await untilListening(broker, { port: ownPort, said: () => said });
  return {
    port: ownPort,
    url: `mqtt://127.0.0.1:${ownPort}`,
    async stop() {
      broker.kill("SIGTERM");
      await ended;
      rmSync(folder, { recursive: true, force: true });
    },
  };
}

export async function freePort(): Promise<number> {
  const server = createServer();
  await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve));
  const address = server.address();
  await new Promise((resolve) => server.close(resolve));
  if (typeof address !== "object" || address === null) throw new Error("no port");
  return address.port;
}

async function untilListening(
  broker: ChildProcess,
  { port, said }: { readonly port: number; readonly said: () => string },
): Promise<void> {
  const untilMs = performance.now() + READY_WITHIN_MS;
  while (performance.now() < untilMs) {
    if (broker.exitCode !== null) throw new Error(`mosquitto ended: ${said()}`);
    const isOpen = await new Promise<boolean>((resolve) => {
      const socket = connect(port, "127.0.0.1");
      socket.once("connect", () => {
        socket.destroy();
        resolve(true);
      });
      socket.once("error", () => resolve(false));
    });
    if (isOpen) return;
    await new Promise((resolve) => setTimeout(resolve, 20));
  }
  broker.kill("SIGKILL");
  throw new Error(`mosquitto does not listen: ${said()}`);
}
