import { COLUMNS, hangingLines } from "./hanging-text.ts";

/**
 * What a user can cause. `main.ts` prints it and ends with exit code 2; anything else that reaches
 * `main.ts` is a failure of ours or of the machine and ends with 1.
 */
export interface UserProblem {
  /** Stable, kebab-case; documented in README or DEVELOPERS. */
  readonly code: string;
  /** `file:line:column`, a topic, or a flag: where to look. */
  readonly where: string;
  /** Dotted path of the key, where there is one. */
  readonly key?: string;
  readonly found?: string;
  readonly expected: string;
  readonly suggestion?: string;
}

export class UserError extends Error {
  override readonly name = "UserError";
  readonly problems: readonly UserProblem[];

  constructor(problems: readonly UserProblem[]) {
    super(problems.map(formatProblem).join("\n\n"));
    this.problems = problems;
  }
}

/** One problem as indented lines of at most 80 columns; the place stays whole, to be copied. */
export function formatProblem(problem: UserProblem): string {
  const { where, code, key, found, expected, suggestion } = problem;
  const head = `${where}  [${code}]`;
  const lines = head.length <= COLUMNS ? [head] : [where, `  [${code}]`];
  if (key !== undefined) lines.push(`  key:      ${key}`);
  if (found !== undefined) lines.push(...hangingLines("  found:    ", found || "nothing"));
  lines.push(...hangingLines("  expected: ", expected));
  if (suggestion !== undefined) lines.push(...hangingLines("  try:      ", suggestion));
  return lines.join("\n");
}
