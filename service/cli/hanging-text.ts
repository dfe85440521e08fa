/** Width that every text of ours fits in, so that it can be read on the smallest terminal. */
const COLUMNS = 80;

/**
 * `head` and `text` as lines of at most 80 columns, broken between words; the lines after the first
 * begin with `indent` spaces. A word longer than a line stays whole, so that it can be copied.
 */
export function hangingLines(head: string, text: string, indent = head.length): string[] {
  const lines: string[] = [];
  let line = head;
  let isEmpty = true;
  for (const word of text.trim().split(" ")) {
    if (!isEmpty && line.length + 1 + word.length > COLUMNS) {
      lines.push(line);
      line = " ".repeat(indent);
      isEmpty = true;
    }
    line += isEmpty ? word : ` ${word}`;
    isEmpty = false;
  }
  return [...lines, line];
}
