/**
 * A real Mosquitto on a port of its own, without persistence, open to this machine alone: a program
 * of this machine, or with MOSQUITTO=container one in a container. test/run.mjs chooses.
 */
import { connect } from "node:net";
import { freePort } from "./free-port.ts";
import { startInContainer } from "./mosquitto-container.ts";
import { startProgram } from "./mosquitto-process.ts";
import type { BrokerProcess, MosquittoSetup } from "./mosquitto-process.ts";

export interface Mosquitto {
  readonly port: number;
  readonly url: string;
  /** What it has said so far. */
  log(): string;
  /** Ends it; what it held in memory is gone. */
  stop(): Promise<void>;
}

/** What Mosquitto says of a client that was silent for one and a half times its keep-alive. */
export const EXCEEDED = /has exceeded timeout/u;

/** A failure alone takes so long: it is a bound, and no measure. */
const READY_WITHIN_MS = 120_000;

/** @param port - To come back on; without it a free one. */
export async function startMosquitto(port?: number): Promise<Mosquitto> {
  const ownPort = port ?? (await freePort());
  const lines = [
    `listener ${ownPort} 127.0.0.1`,
    "allow_anonymous true",
    "persistence false",
    "log_dest stderr",
    "",
  ];
  return startWithFiles({ port: ownPort, files: { "mosquitto.conf": lines.join("\n") } });
}

/** The configuration is given whole: it must listen on `port` of 127.0.0.1. */
export async function startWithFiles(setup: MosquittoSetup): Promise<Mosquitto> {
  const given = process.env["MOSQUITTO"] ?? "";
  const program = given === "" ? "mosquitto" : given;
  const broker =
    program === "container" ? await startInContainer(setup) : startProgram(program, setup);
  await untilListening(broker, setup.port);
  return { port: setup.port, url: `mqtt://127.0.0.1:${setup.port}`, ...broker };
}

async function untilListening(broker: BrokerProcess, port: number): Promise<void> {
  const untilMs = performance.now() + READY_WITHIN_MS;
  while (performance.now() < untilMs) {
    const said = broker.lastWords();
    if (said !== null) throw new Error(`mosquitto ended: ${said}`);
    if (await isOpen(port)) return;
    await new Promise((resolve) => setTimeout(resolve, 20));
  }
  await broker.stop();
  throw new Error(`mosquitto does not listen on port ${port}`);
}

async function isOpen(port: number): Promise<boolean> {
  return new Promise((resolve) => {
    const socket = connect(port, "127.0.0.1");
    socket.once("connect", () => {
      socket.destroy();
      resolve(true);
    });
    socket.once("error", () => resolve(false));
  });
}
