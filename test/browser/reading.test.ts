/** How the pages read: enlarged, on paper, in the reader's own units, and in a simulated time. */
import type { Browser, Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import { accessFaults, openBrowser, openPage } from "../support/browser.ts";
import { startDemo } from "../support/demo-process.ts";
import type { DemoProcess } from "../support/demo-process.ts";

const PAGES = ["now", "days", "events", "signals", "settings"] as const;

let demo: DemoProcess;
let browser: Browser;

beforeAll(async () => {
  demo = await startDemo(["--speed", "1", "--for", "6h"]);
  browser = await openBrowser();
});
afterAll(async () => {
  await browser.close();
  demo.kill();
});

async function goTo(page: Page, name: string): Promise<void> {
  await page.goto(`${demo.web}/#/${name}`);
  await page.locator("h1").waitFor();
}

/** WCAG 2.2, 1.4.10 Reflow: 320 CSS px wide without scrolling in two dimensions. */
describe.each([
  { what: "a desk's page at 400 %", viewport: { width: 320, height: 256 } },
  { what: "a desk's page at 200 %", viewport: { width: 720, height: 450 } },
])("$what", ({ viewport }) => {
  test.each(PAGES)("%s fits in the width", async (name) => {
    const { page } = await openPage(browser, { viewport });
    await goTo(page, name);
    const widthPx = await page.evaluate("document.documentElement.scrollWidth");
    expect(widthPx).toBeLessThanOrEqual(viewport.width);
    expect(await page.locator("h1").boundingBox()).not.toBeNull();
    await page.context().close();
  });
});

test.each(PAGES)("%s says that its time is simulated", async (name) => {
  const { page } = await openPage(browser);
  await goTo(page, name);
  await page.getByText("Simulated time").waitFor();
  await page.context().close();
});

test("units and clock are those of the language until others are chosen, and then stay", async () => {
  const { page, troubles } = await openPage(browser, { locale: "en-US" });
  await goTo(page, "signals");
  const cell = page.locator("tr", { hasText: "inverter.temperature" }).locator("td").first();
  await cell.filter({ hasText: "°F" }).waitFor();
  expect(await page.locator(".age").textContent()).toMatch(/\d\d:\d\d [AP]M, live/u);
  await page.locator("footer summary").click();
  await page.getByLabel("Temperature").selectOption("C");
  await cell.filter({ hasText: "°C" }).waitFor();
  await page.getByLabel("Clock").selectOption("24");
  await page.reload();
  await cell.filter({ hasText: "°C" }).waitFor();
  expect(await page.locator(".age").textContent()).toMatch(/\d\d:\d\d, live/u);
  expect(await accessFaults(page)).toEqual([]);
  expect(troubles).toEqual([]);
  await page.context().close();
});
