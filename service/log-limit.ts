/**
 * Bounds the log: a message that comes again and again fills no disk.
 *
 * Of one message of one part, so many lines a minute go through; of the rest a single line at the
 * minute's end says how many there were. Messages are constants, so their number is bounded by the
 * program's text; should one ever not be, the table stays bounded and the part shares what is left.
 */
import type { Clock } from "./clock.ts";
import type { Log, Part } from "./log.ts";

export type Level = keyof Log;

export interface LogLine {
  readonly level: Level;
  readonly part: Part;
  readonly fields: object;
  readonly message: string;
}

export interface LimitedLog {
  readonly part: (name: Part) => Log;
  /** Says what is still to be said of this minute; nothing is planned after it. */
  readonly close: () => void;
}

/** Lines a minute. Events of the core are few by its own rules, and each tells something new. */
const PER_MINUTE_MAX: Readonly<Record<Part, number>> = {
  broker: 20,
  control: 120,
  history: 20,
  service: 20,
  settings: 60,
  switching: 20,
  telemetry: 20,
  web: 20,
};
const WINDOW_MS = 60_000;
/** Different messages that are told apart within one minute. */
const MESSAGES_MAX = 200;
const OTHERS = "other messages";

interface Allowance {
  readonly level: Level;
  readonly part: Part;
  readonly message: string;
  count: number;
  cancel: () => void;
}

export function createLimitedLog(options: {
  readonly clock: Clock;
  readonly write: (line: LogLine) => void;
}): LimitedLog {
  const { clock, write } = options;
  const allowances = new Map<string, Allowance>();

  const settle = (key: string, { level, part, message, count }: Allowance): void => {
    allowances.delete(key);
    const suppressed = count - PER_MINUTE_MAX[part];
    if (suppressed <= 0) return;
    const text = `${message} … ${String(suppressed)} more suppressed`;
    write({ level, part, fields: { suppressed }, message: text });
  };

  const allowanceFor = ({ level, part, message }: LogLine): Allowance => {
    const own = `${part} ${level} ${message}`;
    const isCrowded = allowances.size >= MESSAGES_MAX && !allowances.has(own);
    const key = isCrowded ? `${part} ${level} ${OTHERS}` : own;
    const present = allowances.get(key);
    if (present !== undefined) return present;
    const name = isCrowded ? OTHERS : message;
    const fresh: Allowance = { level, part, message: name, count: 0, cancel: () => undefined };
    allowances.set(key, fresh);
    fresh.cancel = clock.schedule(WINDOW_MS, () => settle(key, fresh));
    return fresh;
  };

  const say = (line: LogLine): void => {
    const allowance = allowanceFor(line);
    allowance.count += 1;
    if (allowance.count <= PER_MINUTE_MAX[line.part]) write(line);
  };

  return {
    part(part) {
      const at = (level: Level) => (fields: object, message: string) =>
        say({ level, part, fields, message });
      return { debug: at("debug"), info: at("info"), warn: at("warn"), error: at("error") };
    },
    close() {
      for (const [key, allowance] of [...allowances]) {
        allowance.cancel();
        settle(key, allowance);
      }
    },
  };
}
