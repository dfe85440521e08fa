/** Testing a switch from the page of signals, over the simulated shed. */
import { readFileSync } from "node:fs";
import type { Browser, Locator, Page } from "playwright-core";
import { afterAll, beforeAll, expect, test } from "vitest";
import type { StateView } from "../../service/state-view.ts";
import { accessFaults, openBrowser, openPage } from "../support/browser.ts";
import { startDemo } from "../support/demo-process.ts";
import type { DemoProcess } from "../support/demo-process.ts";

const LABEL = "Water heater, 200 L, for cleaning the vats";
let demo: DemoProcess;
let browser: Browser;
let page: Page;
let troubles: readonly string[];

beforeAll(async () => {
  // Twenty seconds a second, from midnight on: the loads have rested when the page is open.
  demo = await startDemo([
    "--speed",
    "20",
    "--for",
    "48h",
    "--set",
    "loads.water-heater.minRest=1 min",
  ]);
  browser = await openBrowser();
  ({ page, troubles } = await openPage(browser, { viewport: { width: 360, height: 740 } }));
  await page.goto(`${demo.web}/#/signals`);
  await page.locator("h1").waitFor();
});
afterAll(async () => {
  await browser.close();
  demo.kill();
});

const stateNow = async () => (await (await fetch(`${demo.web}/api/state`)).json()) as StateView;
const item = (label: string): Locator => page.locator(".switches li").filter({ hasText: label });
const press = (label: string): Locator =>
  page.getByRole("button", { name: `Switch on for 20 s: ${label}` });

test("nothing is switched for whoever has not signed in", async () => {
  await item(LABEL).locator("summary").click();
  await page.getByText("Sign in, at the top of the page, to test a switch.").waitFor();
  expect(await press(LABEL).isDisabled()).toBe(true);
  expect(await item(LABEL).getByRole("checkbox").isDisabled()).toBe(true);
  await page.getByRole("button", { name: "Sign in" }).click();
  await page.getByLabel("Token").fill(readFileSync(demo.tokenFile, "utf8"));
  await page.keyboard.press("Enter");
  await page.getByRole("button", { name: "Sign out" }).waitFor();
});

test("nothing is switched before somebody says that he stands by", async () => {
  expect(await press(LABEL).isDisabled()).toBe(true);
  await item(LABEL).getByRole("checkbox").check();
  expect(await press(LABEL).isDisabled()).toBe(false);
  await item(LABEL).getByRole("checkbox").uncheck();
  expect(await press(LABEL).isDisabled()).toBe(true);
  expect((await stateNow()).switchTest).toBeNull();
});

test("a sound load is switched on and off once, with what showed it", async () => {
  const said = page.locator(".test-state");
  await expect
    .poll(
      async () => {
        const waits = (await stateNow()).loads.find(({ id }) => id === "water-heater");
        return waits?.code;
      },
      { timeout: 120_000 },
    )
    .not.toBe("waiting-rest");
  await item(LABEL).getByRole("checkbox").check();
  await press(LABEL).click();
  await said.filter({ hasText: "Proven: it goes on and off" }).waitFor();
  const { switchTest, loads } = await stateNow();
  expect(switchTest).toMatchObject({ id: "water-heater", phase: "over", isProven: true });
  expect(loads.find(({ id }) => id === "water-heater")?.stage).toBe(0);
  const rows = page.locator(".looks tbody tr");
  expect(await rows.count()).toBe(3);
  expect(await rows.filter({ hasText: "its meter" }).locator("td").first().textContent()).toMatch(
    /^seen after [\d.]+\ss, (?:\d{3}\sW|\d(?:[.]\d+)?\skW)$/u,
  );
  expect(await item(LABEL).getByRole("checkbox").isChecked()).toBe(false);
  expect(await accessFaults(page)).toEqual([]);
  const widthPx = await page.evaluate("document.documentElement.scrollWidth");
  expect(widthPx).toBeLessThanOrEqual(360);
});

test("what may not run now says why, and is not switched", async () => {
  const label = "Compressor of the whey cooler";
  await item(label).locator("summary").click();
  await item(label).getByRole("checkbox").check();
  await press(label).click();
  await page
    .locator(".test-state")
    .filter({ hasText: "Not tested, it never went on: off: outside its hours" })
    .waitFor();
  expect(troubles).toEqual([]);
});
