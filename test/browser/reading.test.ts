/** How the pages read: enlarged, on paper, in the reader's own units, and in a simulated time. */
import type { Browser, Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import type { SiteView } from "../../service/site-view.ts";
import type { StateView } from "../../service/state-view.ts";
import { accessFaults, openBrowser, openPage } from "../support/browser.ts";
import { startDemo } from "../support/demo-process.ts";
import type { DemoProcess } from "../support/demo-process.ts";

const PAGES = ["now", "days", "times", "events", "signals", "settings"] as const;

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
  expect(await page.locator(".age").textContent()).toMatch(/\d\d:\d\d\s[AP]M, live/u);
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

describe("on paper", () => {
  test.each(["now", "days", "times", "signals"] as const)("%s is dark on white", async (name) => {
    const { page } = await openPage(browser, { colorScheme: "dark" });
    await goTo(page, name);
    expect(await page.getByRole("navigation").isVisible()).toBe(true);
    await page.emulateMedia({ media: "print", colorScheme: "dark" });
    expect(await page.evaluate("getComputedStyle(document.body).backgroundColor")).toBe(
      "rgb(255, 255, 255)",
    );
    expect(await page.getByRole("navigation").isVisible()).toBe(false);
    expect(await page.locator("button:visible").count()).toBe(0);
    expect(await page.locator("h1").isVisible()).toBe(true);
    const pdf = await page.pdf({ format: "A4" });
    expect(pdf.subarray(0, 5).toString()).toBe("%PDF-");
    await page.context().close();
  });

  test("the stair stays on one sheet with its caption", async () => {
    const { page } = await openPage(browser);
    await goTo(page, "now");
    await page.emulateMedia({ media: "print" });
    expect(await page.locator("figure svg").isVisible()).toBe(true);
    expect(
      await page.locator("figure").evaluate((figure) => getComputedStyle(figure).breakInside),
    ).toBe("avoid");
    await page.context().close();
  });
});

describe("a battery that is known by its voltage alone", () => {
  test("is said to be so, and its stair measures volts", async () => {
    const { page } = await openPage(browser);
    await page.route("**/api/site", async (route) => {
      const response = await route.fetch();
      const site = (await response.json()) as SiteView;
      const battery = { ...site.battery, voltageMarks: { startV: 54.4, stopV: 52.8 } };
      await route.fulfill({ response, json: { ...site, battery } });
    });
    await page.route("**/api/stream", async (route) => {
      const state = (await (await fetch(`${demo.web}/api/state`)).json()) as StateView;
      const verdict = {
        ...state.verdict,
        socFraction: null,
        socSource: "voltage",
        restVoltageV: 53.1,
      };
      const body = `event: state\ndata: ${JSON.stringify({ ...state, verdict })}\n\n`;
      await route.fulfill({ contentType: "text/event-stream", body });
    });
    await goTo(page, "now");
    const caption = page.locator("figcaption");
    await caption.filter({ hasText: "Battery 53.1 V" }).waitFor();
    expect(await caption.textContent()).toContain("No state of charge is known");
    expect(await page.locator(".scale text").first().textContent()).toMatch(/^\d\d\sV$/u);
    expect(await accessFaults(page)).toEqual([]);
    await page.context().close();
  });
});

test("what was learned stands under the signals", async () => {
  const { page } = await openPage(browser);
  await goTo(page, "signals");
  const section = page.getByRole("region", { name: "What was learned" });
  await section.getByText(/^Array roof: .*not seen yet; taken to give/u).waitFor();
  await section.getByText(/2\skW by the settings, not seen yet/u).waitFor();
  await page.context().close();
});
