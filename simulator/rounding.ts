/** Figures of a result carry six significant digits, everywhere and through this function alone. */
export function roundFigure(value: number): number {
  return Number(value.toPrecision(6));
}

/** A copy of plain data with every number rounded; key order is kept. */
export function roundFigures<T>(data: T): T;
export function roundFigures(data: unknown): unknown {
  if (typeof data === "number") return roundFigure(data);
  if (Array.isArray(data)) return data.map((entry: unknown) => roundFigures(entry));
  if (typeof data !== "object" || data === null) return data;
  return Object.fromEntries(Object.entries(data).map(([key, value]) => [key, roundFigures(value)]));
}
