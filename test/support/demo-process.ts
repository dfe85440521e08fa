/** The built program's demo: the real service over the simulated shed, with its dashboard. */
import { spawn } from "node:child_process";
import { resolve } from "node:path";

export interface DemoProcess {
  /** Of the web server, without a slash at the end. */
  readonly web: string;
  readonly broker: string;
  readonly tokenFile: string;
  /** Kills it, without a farewell. */
  readonly kill: () => void;
}

const PROGRAM = resolve("dist/service/main.js");
const LIMIT_MS = 120_000;

export function startDemo(flags: readonly string[]): Promise<DemoProcess> {
  const ports = ["--set", "web.port=0", "--set", "broker.embedded.port=0"];
  const child = spawn(process.execPath, [PROGRAM, "demo", ...ports, ...flags], {
    stdio: ["ignore", "pipe", "pipe"],
  });
  let said = "";
  return new Promise((fulfil, reject) => {
    const limit = setTimeout(() => fail("said no address in time"), LIMIT_MS);
    const fail = (why: string): void => {
      clearTimeout(limit);
      child.kill("SIGKILL");
      reject(new Error(`the demo ${why}:\n${said}`));
    };
    const listen = (chunk: Buffer): void => {
      said += chunk.toString();
      const web = /(http:\/\/[^/\s]+)\//u.exec(said)?.[1];
      const broker = /(mqtt:\/\/[^\s,]+),/u.exec(said)?.[1];
      const tokenFile = /the text in (\S+)\n/u.exec(said)?.[1];
      if (web === undefined || broker === undefined || tokenFile === undefined) return;
      clearTimeout(limit);
      child.stdout.off("data", listen).resume();
      fulfil({ web, broker, tokenFile, kill: () => void child.kill("SIGKILL") });
    };
    child.stdout.on("data", listen);
    child.stderr.on("data", (chunk: Buffer) => {
      said += chunk.toString();
    });
    child.once("exit", (code) => fail(`ended with ${String(code)}`));
  });
}
