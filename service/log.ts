/** What the shell needs of a logger. Object first, constant message. */
export interface Log {
  debug(fields: object, message: string): void;
  info(fields: object, message: string): void;
  warn(fields: object, message: string): void;
  error(fields: object, message: string): void;
}

/** Whose line it is: one word of `part` in every line. */
export type Part =
  "broker" | "control" | "history" | "service" | "settings" | "switching" | "telemetry" | "web";

/** The log of a whole run; it is itself that of the part `service`. */
export interface RootLog extends Log {
  part(name: Part): Log;
}
