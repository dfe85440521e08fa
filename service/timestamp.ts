/** An instant as text, for people and other programs. */

/** @returns RFC 3339 in UTC; the epoch itself for what no calendar can show. */
export function timestamp(wallMs: number): string {
  const instant = new Date(wallMs);
  return Number.isNaN(instant.getTime()) ? new Date(0).toISOString() : instant.toISOString();
}
