/** The texts of a document's `sh` blocks, in order. */
export function shellBlocks(markdown: string): string[] {
  return [...markdown.matchAll(/^```sh\n(.*?)\n```$/gmsu)].map((match) => match[1] ?? "");
}
