/** A programmer's error. User input and hardware become verdicts and events instead. */
export class InvariantError extends Error {
  override readonly name = "InvariantError";
}

/** @throws InvariantError with `message` if `condition` is false. */
export function invariant(condition: boolean, message: string): asserts condition {
  if (!condition) throw new InvariantError(message);
}
