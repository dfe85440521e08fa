/** "Did you mean …?": the known word nearest to one that is not known. */

/**
 * @returns The nearest candidate, or `undefined` if none is near enough to be a slip: one change
 *   for each three letters. A difference in capitals alone costs nothing.
 */
export function nearestWord(word: string, candidates: readonly string[]): string | undefined {
  let best: string | undefined;
  let bestDistance = Math.floor(word.length / 3) + 1;
  for (const candidate of candidates) {
    const distance = editDistance(word.toLowerCase(), candidate.toLowerCase());
    if (distance < bestDistance) {
      best = candidate;
      bestDistance = distance;
    }
  }
  return best;
}

/**
 * Insertions, deletions, replacements and swaps of neighbours that turn one word into the other.
 *
 * @source "Optimal string alignment" form of Damerau's distance; from memory.
 */
export function editDistance(from: string, to: string): number {
  // Longer words are no slip of a key; the bound keeps a hostile file from costing time.
  if (Math.abs(from.length - to.length) > 20 || from.length > 100) return Infinity;
  let beforeLast: number[] = [];
  let last = Array.from({ length: to.length + 1 }, (_, index) => index);
  for (let row = 1; row <= from.length; row += 1) {
    const current = [row];
    for (let column = 1; column <= to.length; column += 1) {
      const isSame = from[row - 1] === to[column - 1];
      const isSwap =
        row > 1 &&
        column > 1 &&
        from[row - 1] === to[column - 2] &&
        from[row - 2] === to[column - 1];
      const replaced = (last[column - 1] ?? 0) + (isSame ? 0 : 1);
      const inserted = (current[column - 1] ?? 0) + 1;
      const deleted = (last[column] ?? 0) + 1;
      const swapped = isSwap ? (beforeLast[column - 2] ?? 0) + 1 : Infinity;
      current.push(Math.min(replaced, inserted, deleted, swapped));
    }
    beforeLast = last;
    last = current;
  }
  return last[to.length] ?? 0;
}
