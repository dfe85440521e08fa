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

/** One problem as indented lines of at most about 80 columns. */
export function formatProblem(problem: UserProblem): string {
  const lines = [`${problem.where}  [${problem.code}]`];
  if (problem.key !== undefined) lines.push(`  key:      ${problem.key}`);
  if (problem.found !== undefined) lines.push(`  found:    ${problem.found}`);
  lines.push(`  expected: ${problem.expected}`);
  if (problem.suggestion !== undefined) lines.push(`  try:      ${problem.suggestion}`);
  return lines.join("\n");
}
