/** Hands a text that was made on the page to the browser, to be saved as a file. */
export function saveText(
  text: string,
  file: { readonly name: string; readonly type: string },
): void {
  const address = URL.createObjectURL(new Blob([text], { type: file.type }));
  const link = document.createElement("a");
  link.href = address;
  link.download = file.name;
  link.click();
  URL.revokeObjectURL(address);
}
