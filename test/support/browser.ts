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
