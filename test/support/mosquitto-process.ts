/** Mosquitto as a program of this machine, and what a broker process is wherever it runs. */
import { spawn } from "node:child_process";
import { chmodSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";

export interface MosquittoSetup {
  /** To come back on. */
  readonly port: number;
  /** Texts of its files by name, `mosquitto.conf` among them, which finds them in CONFIG_FOLDER. */
  readonly files: Readonly<Record<string, string>>;
}

/** A broker process, wherever it runs. */
export interface BrokerProcess {
  /** Its words, once it has ended by itself; null while it runs. */
  readonly lastWords: () => string | null;
  /** Its words so far. */
  readonly log: () => string;
  /** Asks it to end, as an orderly machine does, and waits for it. */
  readonly stop: () => Promise<void>;
}

/** Where the published image has its configuration. */
export const CONFIG_FOLDER = "/mosquitto/config";

export function startProgram(program: string, { files }: MosquittoSetup): BrokerProcess {
  const folder = mkdtempSync(join(tmpdir(), "bywash-mosquitto-"));
  // Mosquitto gives root away before it reads passwords and access rules.
  chmodSync(folder, 0o755);
  for (const [name, text] of Object.entries(files)) {
    writeFileSync(join(folder, name), text.replaceAll(CONFIG_FOLDER, folder));
  }
  const broker = spawn(program, ["-c", join(folder, "mosquitto.conf")], { stdio: "pipe" });
  let said = "";
  let hasEnded = false;
  for (const stream of [broker.stdout, broker.stderr]) {
    stream.on("data", (chunk: Buffer) => (said += chunk.toString()));
  }
  const ended = new Promise<void>((resolve) => {
    const end = (): void => {
      hasEnded = true;
      resolve();
    };
    broker.once("exit", end);
    broker.once("error", (error) => {
      said += `${error.message} (\`npm test\` finds a broker, or says why there is none)`;
      end();
    });
  });
  return {
    lastWords: () => (hasEnded ? said : null),
    log: () => said,
    async stop() {
      broker.kill("SIGTERM");
      await ended;
      rmSync(folder, { recursive: true, force: true });
    },
  };
}
