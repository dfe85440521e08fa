/** The `:id` of a path. */
export function idOf(params: unknown): string | null {
  if (typeof params !== "object" || params === null || !("id" in params)) return null;
  return typeof params.id === "string" ? params.id : null;
}
