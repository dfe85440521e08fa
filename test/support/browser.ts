/** Chromium as a person's browser: any trouble on the page's console is kept, and each request. */
import axe from "axe-core";
import { chromium } from "playwright-core";
import type { Browser, BrowserContextOptions, Page } from "playwright-core";

const PAGE_LIMIT_MS = 580_000;

export async function openBrowser(): Promise<Browser> {
  const given = process.env["CHROMIUM"];
  return chromium.launch({
    executablePath: given === undefined || given === "" ? "/usr/bin/chromium" : given,
    args: ["--no-sandbox", "--disable-gpu"],
    // Left to itself it gives up after 30 s, which a busy machine may need.
    timeout: PAGE_LIMIT_MS,
  });
}

export interface WatchedPage {
  readonly page: Page;
  /** Errors and warnings of the console, and exceptions. */
  readonly troubles: readonly string[];
  /** Where every request went. */
  readonly requests: readonly string[];
}

export async function openPage(
  browser: Browser,
  options: BrowserContextOptions = {},
): Promise<WatchedPage> {
  const context = await browser.newContext({ locale: "en-GB", ...options });
  // A day that is worked out again takes a busy machine long; the test's own limit is above.
  context.setDefaultTimeout(PAGE_LIMIT_MS);
  const page = await context.newPage();
  const troubles: string[] = [];
  const requests: string[] = [];
  page.on("console", (message) => {
    if (["error", "warning"].includes(message.type())) troubles.push(message.text());
  });
  page.on("pageerror", (error) => troubles.push(String(error)));
  page.on("request", (request) => requests.push(request.url()));
  return { page, troubles, requests };
}

/** Rules that are broken, with the elements that break them. */
export async function accessFaults(page: Page): Promise<string[]> {
  await page.evaluate(axe.source);
  return page.evaluate(async () => {
    // axe puts itself there.
    const { axe: inPage } = globalThis as unknown as { axe: typeof axe };
    const { violations, passes } = await inPage.run();
    if (passes.length === 0) return ["nothing was looked at"];
    return violations.flatMap(({ id, nodes }) => nodes.map(({ html }) => `${id}: ${html}`));
  });
}

export interface Quantities {
  /** How many there are on the page. */
  readonly seen: number;
  /** Those whose number stands at the end of one line and whose unit at the start of the next. */
  readonly parted: readonly string[];
}

export function partedQuantities(page: Page): Promise<Quantities> {
  return page.evaluate(() => {
    const quantity = /\d\s(?:%|°[CF]|k?Wh?|[AVKLhsd]|min)(?![\p{L}\d])/gu;
    const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    const parted: string[] = [];
    let seen = 0;
    for (let node = walker.nextNode(); node !== null; node = walker.nextNode()) {
      const text = node.textContent ?? "";
      for (const { 0: found, index } of text.matchAll(quantity)) {
        const range = document.createRange();
        range.setStart(node, index);
        range.setEnd(node, index + found.length);
        const tops = [...range.getClientRects()]
          .filter(({ width }) => width > 0)
          .map(({ top }) => Math.round(top));
        if (tops.length > 0) seen += 1;
        if (new Set(tops).size > 1) parted.push(text.slice(Math.max(0, index - 20), index + 20));
      }
    }
    return { seen, parted };
  });
}
