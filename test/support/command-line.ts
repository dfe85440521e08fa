/** The built program as a user types it. */
import { spawn } from "node:child_process";
import type { ChildProcess } from "node:child_process";
import { resolve } from "node:path";

const PROGRAM = resolve("dist/service/main.js");
const LIMIT_MS = 580_000;
/** A service is there for all tests of a file, however long a busy machine takes for them. */
const SERVICE_LIMIT_MS = 1_800_000;

interface Where {
  readonly cwd?: string;
  readonly env?: Readonly<Record<string, string>>;
  readonly limitMs?: number;
}

export interface Typed {
  /** null: ended by a signal, which is how a command that does not end is ended here. */
  readonly code: number | null;
  readonly stdout: string;
  readonly stderr: string;
}

export interface Running {
  readonly process: ChildProcess;
  readonly ended: Promise<Typed>;
  /** Resolves with the first match in standard output; rejects if the command ends without it. */
  readonly says: (pattern: RegExp) => Promise<RegExpExecArray>;
}

/** Runs a command to its end. */
export async function bywash(args: readonly string[], where: Where = {}): Promise<Typed> {
  return startBywash(args, where).ended;
}

export function startBywash(args: readonly string[], where: Where = {}): Running {
  const { cwd, env, limitMs = LIMIT_MS } = where;
  const child = spawn(process.execPath, [PROGRAM, ...args], {
    stdio: ["ignore", "pipe", "pipe"],
    env: { ...process.env, ...env },
    ...(cwd === undefined ? {} : { cwd }),
    timeout: limitMs,
    killSignal: "SIGKILL",
  });
  let stdout = "";
  let stderr = "";
  const lookers = new Set<() => void>();
  child.stdout.on("data", (chunk: Buffer) => {
    stdout += chunk.toString();
    for (const look of lookers) look();
  });
  child.stderr.on("data", (chunk: Buffer) => (stderr += chunk.toString()));
  const ended = new Promise<Typed>((done, fail) => {
    child.once("error", fail);
    child.once("close", (code) => done({ code, stdout, stderr }));
  });
  return {
    process: child,
    ended,
    says: (pattern) =>
      new Promise((found, fail) => {
        const look = (): void => {
          const match = pattern.exec(stdout);
          if (match === null) return;
          lookers.delete(look);
          found(match);
        };
        lookers.add(look);
        look();
        ended.then(() => fail(new Error(`ended without ${pattern}: ${stdout}${stderr}`)), fail);
      }),
  };
}

/** `serve` in `cwd` on ports of its own, and where its web server answers. */
export async function serveOnFreePorts(
  cwd: string,
  ...flags: readonly string[]
): Promise<Running & { readonly url: string }> {
  const ports = ["--set", "broker.embedded.port=0", "--set", "web.port=0"];
  const running = startBywash(["serve", "--config", "site.yaml", ...ports, ...flags], {
    cwd,
    limitMs: SERVICE_LIMIT_MS,
  });
  const [, host, port] = await running.says(
    /"web":\{"host":"([^"]+)","port":(\d+)\}.*"msg":"service runs"/u,
  );
  return { ...running, url: `http://${host}:${port}` };
}
