/** Plain data that someone else wrote, field by field: what is not as it should be is null. */

export function fieldOf(value: unknown, key: string): unknown {
  return isRecord(value) && Object.hasOwn(value, key) ? value[key] : null;
}

export function listOf(value: unknown, key: string): readonly unknown[] {
  const list = fieldOf(value, key);
  return Array.isArray(list) ? list : [];
}

/** One that can be added to another without end. */
export function numberOf(value: unknown, key: string): number | null {
  const number = fieldOf(value, key);
  return isBounded(number) ? number : null;
}

/** @returns A number that is not negative, else 0. */
export function amountOf(value: unknown, key: string): number {
  return Math.max(0, numberOf(value, key) ?? 0);
}

/** @returns As `amountOf`, and whole. */
export function countOf(value: unknown, key: string): number {
  return Math.floor(amountOf(value, key));
}

/** @returns `otherwise` for what is neither true nor false. */
export function truthOf(value: unknown, key: string, otherwise: boolean): boolean {
  const truth = fieldOf(value, key);
  return typeof truth === "boolean" ? truth : otherwise;
}

export function isBounded(value: unknown): value is number {
  return typeof value === "number" && Math.abs(value) <= Number.MAX_SAFE_INTEGER;
}

function isRecord(value: unknown): value is Readonly<Record<string, unknown>> {
  return typeof value === "object" && value !== null;
}
