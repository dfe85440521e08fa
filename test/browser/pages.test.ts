/** Every page in Chromium, over the real service and the simulated shed. */
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import type { Browser, Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import type { StateView } from "../../service/state-view.ts";
import { accessFaults, openBrowser, openPage } from "../support/browser.ts";
import { startDemo } from "../support/demo-process.ts";
import type { DemoProcess } from "../support/demo-process.ts";
import { createStranger } from "../support/stranger.ts";

const SCRIPT_BYTES_MAX = 90_000;
const PAGES = ["now", "days", "times", "events", "signals", "settings"] as const;
const SIZES = [
  { width: 360, height: 740 },
  { width: 820, height: 1180 },
  { width: 1440, height: 900 },
];
const SCHEMES = ["light", "dark"] as const;

/** An observer hears of a new heading before it is painted: later is too late for a reader. */
const NOTE_FOCUS_AT_HEADING = `
  new MutationObserver((_, observer) => {
    if (document.querySelector("h1")?.textContent !== "Settings") return;
    observer.disconnect();
    window.focusedAtHeading = document.activeElement.id;
  }).observe(document.body, { childList: true, characterData: true, subtree: true });
`;

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

describe.each(SCHEMES)("%s", (colorScheme) => {
  describe.each(SIZES)("$width × $height", (viewport) => {
    test.each(PAGES)("%s: no trouble, nothing from elsewhere, open to all", async (name) => {
      const { page, troubles, requests } = await openPage(browser, { viewport, colorScheme });
      await goTo(page, name);
      expect(await accessFaults(page)).toEqual([]);
      const widthPx = await page.evaluate("document.documentElement.scrollWidth");
      expect(widthPx).toBeLessThanOrEqual(viewport.width);
      expect(troubles).toEqual([]);
      expect(requests.length).toBeGreaterThan(3);
      expect(requests.filter((url) => !url.startsWith(`${demo.web}/`))).toEqual([]);
      await page.context().close();
    });
  });
});

test("now says of each load what the service says, in words and as a step", async () => {
  const { page } = await openPage(browser);
  await goTo(page, "now");
  const state = (await (await fetch(`${demo.web}/api/state`)).json()) as StateView;
  expect(state.loads.length).toBe(3);
  for (const { id, label } of state.loads) {
    const item = page.locator(`#load-${id}`);
    expect(await item.locator("h3").textContent()).toContain(label);
    expect(await item.locator(".why").textContent()).toMatch(/\w{3}.*\.$/u);
  }
  expect(await page.locator(".step").count()).toBe(3);
  const caption = /^Battery \d+(\.\d)?\s%, rule curve 94\s%, floor 60\s%/u;
  await page.locator("figcaption").filter({ hasText: caption }).waitFor();
  await page.context().close();
});

test("a message of the broker is on the page as it comes: the page neither asks nor waits", async () => {
  const { page, requests } = await openPage(browser);
  await page.clock.install();
  await goTo(page, "signals");
  const cell = page.locator("tr", { hasText: "inverter.temperature" }).locator("td").first();
  await cell.filter({ hasText: "°C" }).waitFor();
  // From here on no timer of the page's own runs out.
  await page.clock.pauseAt(Number(await page.evaluate("Date.now()")) + 1_000);
  const askedBefore = requests.length;
  const stranger = await createStranger(demo.broker, { protocolVersion: 4 });
  const payload = { ac: { w: 400, v: 230, hz: 50 }, fault: false };
  for (const temperatureC of [41.25, 42.75, 43.5]) {
    const shown = async (): Promise<string | null> => {
      // Again and again: the shed's own next message takes it back.
      await stranger.say("shed/inverter", JSON.stringify({ ...payload, t: temperatureC }));
      return cell.textContent();
    };
    await expect.poll(shown, { timeout: 120_000 }).toBe(`${String(temperatureC)}\u00A0°C`);
  }
  expect(requests.length).toBe(askedBefore);
  await stranger.end();
  await page.context().close();
});

test("every page is reached by the keyboard alone, and its heading is where reading goes on", async () => {
  const { page } = await openPage(browser);
  await goTo(page, "now");
  await page.keyboard.press("Tab");
  expect(await page.evaluate("document.activeElement.textContent")).toMatch(/Skip/u);
  for (const name of ["Now", "Days", "Good times", "Events", "Signals", "Settings"]) {
    await page.keyboard.press("Tab");
    expect(await page.evaluate("document.activeElement.textContent")).toBe(name);
  }
  await page.evaluate(NOTE_FOCUS_AT_HEADING);
  await page.keyboard.press("Enter");
  await page.locator("h1", { hasText: "Settings" }).waitFor();
  expect(await page.evaluate("window.focusedAtHeading")).toBe("content");
  await page.context().close();
});

test("says so when the service falls silent, and goes on when it is back", async () => {
  const { page } = await openPage(browser);
  await page.clock.install();
  await goTo(page, "now");
  await page.context().setOffline(true);
  await page.route("**/api/stream", (route) => route.abort());
  await page.evaluate("window.dispatchEvent(new Event('offline'))");
  await page.clock.runFor(40_000);
  const notice = page.getByRole("alert");
  await notice
    .filter({ hasText: /not been heard for (\d+\ss|1\smin)\. What is shown is old/u })
    .waitFor();
  expect(await page.locator("main").getAttribute("class")).toBe("stale");
  await page.unroute("**/api/stream");
  await page.context().setOffline(false);
  await page.clock.runFor(40_000);
  await page.locator(".age.fresh").waitFor();
  expect(await notice.textContent()).toBe("");
  await page.context().close();
});

test("the script is small", () => {
  const folder = "dist/service/dashboard/built/assets";
  const scripts = readdirSync(folder).filter((name) => name.endsWith(".js.gz"));
  expect(scripts.length).toBeGreaterThan(0);
  const bytes = scripts.reduce((sum, name) => sum + readFileSync(join(folder, name)).length, 0);
  expect(bytes).toBeGreaterThan(5_000);
  expect(bytes).toBeLessThanOrEqual(SCRIPT_BYTES_MAX);
});
