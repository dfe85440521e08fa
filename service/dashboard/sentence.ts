/** The service's phrase as a sentence that stands alone. */
export function asSentence(phrase: string): string {
  const text = phrase.trim();
  if (text === "") return "";
  const end = /[.!?]$/u.test(text) ? "" : ".";
  return `${text.charAt(0).toUpperCase()}${text.slice(1)}${end}`;
}
