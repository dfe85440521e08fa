const ESCAPES: Readonly<Record<string, string>> = {
  "&": "&amp;",
  "<": "&lt;",
  ">": "&gt;",
  '"': "&quot;",
  "'": "&#39;",
};

/** Text that may stand in HTML and in a quoted attribute. */
export function escaped(text: string): string {
  return text.replace(/[&<>"']/gu, (sign) => ESCAPES[sign] ?? sign);
}
