/** The log of a run: each line of one part, bounded in number, without secrets. */
import type { Logger } from "pino";
import { systemClock } from "../clock.ts";
import { createLimitedLog } from "../log-limit.ts";
import { textWithoutSecrets, withoutSecrets } from "../log-redact.ts";
import type { RootLog } from "../log.ts";

export interface ServiceLog extends RootLog {
  /** Says what was suppressed; to be called last. */
  close(): void;
}

export interface ServiceLogOptions {
  readonly name: string;
  readonly level: string;
  readonly output: "stdout" | "stderr";
}

export async function createServiceLog(options: ServiceLogOptions): Promise<ServiceLog> {
  const lines = await createLines(options);
  const limited = createLimitedLog({
    clock: systemClock,
    write: ({ level: lineLevel, part, fields, message }) =>
      lines[lineLevel]({ part, ...withoutSecrets(fields) }, textWithoutSecrets(message)),
  });
  return { ...limited.part("service"), part: limited.part, close: limited.close };
}

/** JSON lines for machines; the readable form on a terminal alone. */
async function createLines({ name, level, output }: ServiceLogOptions): Promise<Logger> {
  const { destination, pino } = await import("pino");
  const { fd, isTTY } = process[output];
  const base = { name };
  if (!isTTY) return pino({ level, base }, destination(fd));
  const { PinoPretty } = await import("pino-pretty");
  return pino({ level, base }, PinoPretty({ sync: true, destination: fd }));
}
