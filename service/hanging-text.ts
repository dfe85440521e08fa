/** Width that every text of ours fits in, so that it can be read on the smallest terminal. */
export const COLUMNS = 80;

/**
 * `head` and `text` as lines of at most 80 columns, broken between words; the lines after the first
 * begin with `indent` spaces. A word longer than a line stays whole, so that it can be copied.
 * A break that is in the text already is kept.
 */
export function hangingLines(head: string, text: string, indent = head.length): string[] {
  const margin = " ".repeat(indent);
  const paragraphs = text.trim().split("\n");
  return paragraphs.flatMap((one, index) =>
    brokenLines(index === 0 ? head : margin, one.trim(), margin),
  );
}

function brokenLines(head: string, text: string, margin: string): string[] {
  const lines: string[] = [];
  let line = head;
  let isEmpty = true;
  for (const word of text.split(" ")) {
    if (!isEmpty && line.length + 1 + word.length > COLUMNS) {
      lines.push(line);
      line = margin;
      isEmpty = true;
    }
    line += isEmpty ? word : ` ${word}`;
    isEmpty = false;
  }
  return [...lines, line];
}
