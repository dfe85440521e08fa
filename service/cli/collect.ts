/** For options that may be given more than once. */
export function collect(value: string, before: readonly string[]): readonly string[] {
  return [...before, value];
}
