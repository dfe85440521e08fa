/**
 * The ribbon as a picture that stands alone: colours and fonts as the page shows them written into
 * it, with the legend, and the day's figures in words.
 */

/** What a style sheet gives here, and a picture has to have in itself. */
const PROPERTIES = [
  "fill",
  "stroke",
  "stroke-width",
  "stroke-dasharray",
  "font-size",
  "text-anchor",
] as const;
const NAMESPACE = "http://www.w3.org/2000/svg";
const FONT = "system-ui, sans-serif";
/** [px] */
const [MARGIN, LINE, KEY, BETWEEN, TEXT, TITLE] = [16, 22, 36, 20, 14, 16];

interface Look {
  /** Of the ribbon. [px] */
  readonly width: number;
  readonly ink: string;
  readonly paper: string;
}

export function ribbonFile(
  figure: Element,
  about: { readonly title: string; readonly words: string },
): string | null {
  const ribbon = figure.querySelector<SVGSVGElement>(".ribbon svg");
  if (ribbon === null) return null;
  const { width, height } = ribbon.getBoundingClientRect();
  const { color: ink, backgroundColor: paper } = getComputedStyle(figure);
  const look = { width, ink, paper };
  const parts: Element[] = [];
  let y = MARGIN + TITLE;
  for (const line of linesOf(about.title, width, TITLE)) {
    parts.push(written(line, { x: MARGIN, y, fill: ink, "font-size": TITLE, "font-weight": 600 }));
    y += LINE;
  }
  const drawn = element("g", { transform: `translate(${String(MARGIN)} ${String(y - TITLE)})` });
  drawn.append(...contentOf(ribbon));
  parts.push(drawn);
  y += height + LINE - TITLE;
  const legend = legendOf([...figure.querySelectorAll(".legend li")], y, look);
  parts.push(...legend.parts);
  y = legend.y + LINE + MARGIN / 2;
  for (const line of linesOf(about.words, width, TEXT)) {
    parts.push(written(line, { x: MARGIN, y, fill: ink, "font-size": TEXT }));
    y += LINE;
  }
  return fileOf(about.title, parts, { ...look, width: Math.max(width, legend.width), height: y });
}

function fileOf(
  name: string,
  parts: readonly Element[],
  { width, height, paper }: Look & { readonly height: number },
): string {
  const wide = width + 2 * MARGIN;
  const picture = element("svg", {
    viewBox: `0 0 ${String(wide)} ${String(height)}`,
    width: wide,
    height,
    "font-family": FONT,
    role: "img",
  });
  const title = element("title", {});
  title.textContent = name;
  picture.append(title, element("rect", { width: "100%", height: "100%", fill: paper }), ...parts);
  const text = new XMLSerializer().serializeToString(picture);
  return `<?xml version="1.0" encoding="UTF-8"?>\n${text}\n`;
}

/** One after the other, in as many rows as it takes. */
function legendOf(
  items: readonly Element[],
  top: number,
  { width, ink }: Look,
): { readonly parts: readonly Element[]; readonly width: number; readonly y: number } {
  const parts: Element[] = [];
  let [x, y, widest] = [MARGIN, top, 0];
  for (const item of items) {
    const text = item.textContent.trim();
    const room = KEY + widthOf(text, TEXT);
    if (x > MARGIN && x + room > width + MARGIN) [x, y] = [MARGIN, y + LINE];
    const key = element("g", { transform: `translate(${String(x)} ${String(y - 11)})` });
    const swatch = item.querySelector("svg");
    if (swatch !== null) key.append(...contentOf(swatch));
    parts.push(key, written(text, { x: x + KEY, y, fill: ink, "font-size": TEXT }));
    widest = Math.max(widest, x - MARGIN + room);
    x += room + BETWEEN;
  }
  return { parts, width: widest, y };
}

/** All but the cursor, which shows where a person was pointing. */
function contentOf(drawing: SVGSVGElement): readonly Element[] {
  return [...drawing.children].filter((one) => !one.matches(".cursor")).map(withOwnStyle);
}

/** A copy in which every element says itself how it looks. */
function withOwnStyle(original: Element): Element {
  const copy = original.cloneNode(false);
  if (!(copy instanceof Element)) throw new TypeError("the copy of an element is one");
  const style = getComputedStyle(original);
  for (const property of PROPERTIES) copy.setAttribute(property, style.getPropertyValue(property));
  copy.removeAttribute("class");
  for (const child of original.childNodes) {
    copy.append(child instanceof Element ? withOwnStyle(child) : child.cloneNode(true));
  }
  return copy;
}

function written(text: string, attributes: Readonly<Record<string, string | number>>): Element {
  const made = element("text", attributes);
  made.textContent = text;
  return made;
}

function element(name: string, attributes: Readonly<Record<string, string | number>>): Element {
  const made = document.createElementNS(NAMESPACE, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, String(value));
  return made;
}

function linesOf(words: string, width: number, sizePx: number): readonly string[] {
  const lines: string[] = [];
  for (const word of words.split(" ")) {
    const longer = `${lines.at(-1) ?? ""} ${word}`;
    if (lines.length > 0 && widthOf(longer, sizePx) <= width) lines[lines.length - 1] = longer;
    else lines.push(word);
  }
  return lines;
}

/** Another machine has other fonts: a tenth to spare. [px] */
function widthOf(text: string, sizePx: number): number {
  const context = document.createElement("canvas").getContext("2d");
  if (context === null) return text.length * sizePx;
  context.font = `600 ${String(sizePx)}px ${FONT}`;
  return 1.1 * context.measureText(text).width;
}
