/** Logs for tests: one that says nothing, one that remembers. */
import type { RootLog } from "../../service/log.ts";

export const silentLog: RootLog = {
  debug: () => undefined,
  info: () => undefined,
  warn: () => undefined,
  error: () => undefined,
  part: () => silentLog,
};

export function createMemoryLog(): { readonly log: RootLog; readonly lines: string[] } {
  const lines: string[] = [];
  const at = (level: string) => (_fields: object, message: string) => {
    lines.push(`${level} ${message}`);
  };
  const log: RootLog = {
    debug: at("debug"),
    info: at("info"),
    warn: at("warn"),
    error: at("error"),
    part: () => log,
  };
  return { log, lines };
}
