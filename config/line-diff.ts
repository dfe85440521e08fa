/** What differs between two texts, line by line. */
export interface DiffLine {
  readonly change: "same" | "removed" | "added";
  readonly text: string;
}

/** Unchanged lines that are shown around a change. */
const CONTEXT = 2;

/** The changed lines with some around them; empty if the texts are the same. */
export function lineDiff(before: string, after: string): readonly DiffLine[] {
  const all = allLines(before.split("\n"), after.split("\n"));
  return all.filter(
    (line, index) =>
      line.change !== "same" ||
      all
        .slice(Math.max(0, index - CONTEXT), index + CONTEXT + 1)
        .some(({ change }) => change !== "same"),
  );
}

/** By the longest common subsequence of what lies between their common ends. */
function allLines(before: readonly string[], after: readonly string[]): readonly DiffLine[] {
  let head = 0;
  while (head < Math.min(before.length, after.length) && before[head] === after[head]) head += 1;
  let tail = 0;
  const rest = Math.min(before.length, after.length) - head;
  while (tail < rest && before.at(-1 - tail) === after.at(-1 - tail)) tail += 1;
  const same = (lines: readonly string[]): DiffLine[] =>
    lines.map((text) => ({ change: "same", text }));
  const middle = [
    before.slice(head, before.length - tail),
    after.slice(head, after.length - tail),
  ] as const;
  return [
    ...same(before.slice(0, head)),
    ...between(...middle),
    ...same(before.slice(before.length - tail)),
  ];
}

function between(before: readonly string[], after: readonly string[]): readonly DiffLine[] {
  const lengths = commonLengths(before, after);
  const lines: DiffLine[] = [];
  let [at, to] = [0, 0];
  while (at < before.length || to < after.length) {
    const [old, fresh] = [before[at], after[to]];
    const skipOld = lengths[at + 1]?.[to] ?? -1;
    const skipNew = lengths[at]?.[to + 1] ?? -1;
    if (old !== undefined && old === fresh) {
      lines.push({ change: "same", text: old });
      at += 1;
      to += 1;
    } else if (old !== undefined && (fresh === undefined || skipOld >= skipNew)) {
      lines.push({ change: "removed", text: old });
      at += 1;
    } else {
      lines.push({ change: "added", text: fresh ?? "" });
      to += 1;
    }
  }
  return lines;
}

/** `[i][j]`: of the lines from i and from j on. */
function commonLengths(before: readonly string[], after: readonly string[]): number[][] {
  const lengths = Array.from({ length: before.length + 1 }, () =>
    new Array<number>(after.length + 1).fill(0),
  );
  for (let i = before.length - 1; i >= 0; i -= 1) {
    for (let j = after.length - 1; j >= 0; j -= 1) {
      const isSame = before[i] === after[j];
      const [row, below] = [lengths[i] ?? [], lengths[i + 1] ?? []];
      row[j] = isSame ? (below[j + 1] ?? 0) + 1 : Math.max(below[j] ?? 0, row[j + 1] ?? 0);
    }
  }
  return lengths;
}
