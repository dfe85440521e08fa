/** Values as they stand in a statement of SQL. */

export type Value = number | string | Uint8Array | null;

/** @returns NULL for a number that is none, or is not finite. */
export function literal(value: Value): string {
  if (value === null) return "NULL";
  if (typeof value === "number") return Number.isFinite(value) ? String(value) : "NULL";
  if (typeof value === "string") {
    // A NUL would end the statement.
    return `'${value.replaceAll("\0", "\uFFFD").replaceAll("'", "''")}'`;
  }
  return `x'${Buffer.from(value).toString("hex")}'`;
}
