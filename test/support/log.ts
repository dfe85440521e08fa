/** Logs for tests: one that says nothing, one that remembers. */
import type { Log } from "../../service/log.ts";

export const silentLog: Log = {
  debug: () => undefined,
  info: () => undefined,
  warn: () => undefined,
  error: () => undefined,
};

export function createMemoryLog(): { readonly log: Log; readonly lines: string[] } {
  const lines: string[] = [];
  const at = (level: string) => (_fields: object, message: string) => {
    lines.push(`${level} ${message}`);
  };
  const log = { debug: at("debug"), info: at("info"), warn: at("warn"), error: at("error") };
  return { log, lines };
}
