/** The rules by which MQTT matches topics and filters (MQTT 3.1.1 and 5.0, OASIS, 4.7). */

const TOPIC_BYTES_MAX = 65_535;

/** `+` and `#` stand alone in a level, `#` only in the last (4.7.1). */
export function isTopicFilter(text: string): boolean {
  const levels = text.split("/");
  const isRight = (level: string, index: number): boolean =>
    level === "+" || (level === "#" && index === levels.length - 1) || !/[+#\0]/u.test(level);
  return text !== "" && Buffer.byteLength(text) <= TOPIC_BYTES_MAX && levels.every(isRight);
}

/**
 * Whether every topic that `asked` matches is matched by `allowed` too; `asked` may be a topic, or
 * a filter with wildcards of its own.
 *
 * A wildcard in the first level reaches no topic that starts with `$` (4.7.2).
 */
export function isCovered(asked: string, allowed: string): boolean {
  if (asked.startsWith("$") && !allowed.startsWith("$")) return false;
  const wanted = asked.split("/");
  const granted = allowed.split("/");
  for (const [index, level] of granted.entries()) {
    // `shed/#` matches `shed` itself, too (4.7.1.2).
    if (level === "#") return true;
    const own = wanted[index];
    if (own === undefined || own === "#") return false;
    if (level !== "+" && level !== own) return false;
  }
  return wanted.length === granted.length;
}

/** Whether any of the filters covers it. */
export function isCoveredByAny(asked: string, allowed: readonly string[]): boolean {
  return allowed.some((filter) => isCovered(asked, filter));
}

/** Whether there is a topic that both match; each may be a topic, or a filter with wildcards. */
export function doOverlap(one: string, other: string): boolean {
  if (one.startsWith("$") !== other.startsWith("$")) return false;
  const left = one.split("/");
  const right = other.split("/");
  for (let index = 0; index < Math.max(left.length, right.length); index += 1) {
    const [own, its] = [left[index], right[index]];
    if (own === "#" || its === "#") return true;
    if (own === undefined || its === undefined) return false;
    if (own !== its && own !== "+" && its !== "+") return false;
  }
  return true;
}

export function hasWildcard(filter: string): boolean {
  return filter.includes("+") || filter.includes("#");
}
