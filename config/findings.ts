/** What is wrong, or doubtful, in a settings file, before it is known where that stands. */

export type SettingsPath = readonly (string | number)[];

export interface Finding {
  readonly path: SettingsPath;
  /** An error refuses the file; a warning is said and the service runs. */
  readonly severity: "error" | "warning";
  /** Stable, kebab-case. */
  readonly code: string;
  readonly expected: string;
  readonly suggestion?: string;
  /** In words, where the text of the file does not say it. */
  readonly found?: string;
  /** The key is wrong and not its value. */
  readonly isAboutKey?: boolean;
}

/** The code comes first, so that a list of findings can be scanned. */
export function errorAt(
  path: SettingsPath,
  code: string,
  rest: Omit<Finding, "path" | "severity" | "code">,
): Finding {
  return { path, severity: "error", code, ...rest };
}

export function warningAt(
  path: SettingsPath,
  code: string,
  rest: Omit<Finding, "path" | "severity" | "code">,
): Finding {
  return { path, severity: "warning", code, ...rest };
}
