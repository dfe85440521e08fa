// Figures as people read them, within 80 columns.
const NAME_WIDTH = 36;
const CELL_WIDTH = 10;

/** The smallest value that at least this share of all values does not exceed. */
export function quantile(values, fraction) {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.max(0, Math.ceil(fraction * sorted.length) - 1)];
}

export function summary(valuesMs) {
  return {
    count: valuesMs.length,
    p50: quantile(valuesMs, 0.5),
    p95: quantile(valuesMs, 0.95),
    p99: quantile(valuesMs, 0.99),
    max: Math.max(...valuesMs),
  };
}

export function printTable({ title, columns, rows, notes }) {
  console.log(`\n${title}`);
  const line = (name, cells) =>
    name.padEnd(NAME_WIDTH) + cells.map((cell) => cell.padStart(CELL_WIDTH)).join("");
  console.log(line("", columns));
  for (const { name, cells } of rows) console.log(line(name, cells));
  for (const note of notes) console.log(note);
}
