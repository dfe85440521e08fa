/** The settings on the page of a real service: looked up, changed, refused, taken back. */
import { cpSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import type { Browser, Page } from "playwright-core";
import { afterAll, beforeAll, expect, test } from "vitest";
import { accessFaults, openBrowser, openPage } from "../support/browser.ts";
import { serveOnFreePorts } from "../support/command-line.ts";

const KEY = "loads.water-heater.minRun";
let folder = "";
let service: Awaited<ReturnType<typeof serveOnFreePorts>>;
let browser: Browser;
let page: Page;
let troubles: readonly string[];

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), "bywash-page-"));
  cpSync("config/examples/malga.yaml", join(folder, "site.yaml"));
  service = await serveOnFreePorts(folder, "--set", "web.editing=true");
  browser = await openBrowser();
  ({ page, troubles } = await openPage(browser, { viewport: { width: 360, height: 740 } }));
  await page.goto(`${service.url}/#/settings`);
});
afterAll(async () => {
  await browser.close();
  service.process.kill("SIGTERM");
  await service.ended;
  rmSync(folder, { recursive: true });
});

const file = () => readFileSync(join(folder, "site.yaml"), "utf8");
const row = () => page.locator(".key").filter({ has: page.getByText(KEY, { exact: true }) });
const bar = () => page.getByRole("region", { name: "Changes" });

async function write(value: string): Promise<void> {
  await page.getByLabel(`New value of ${KEY}`).fill(value);
  await bar().getByRole("button", { name: "Check" }).click();
}

test("are shown to whoever has signed in, each with its meaning", async () => {
  await page.getByText("Sign in, at the top of the page, to see the settings.").waitFor();
  await page.getByRole("button", { name: "Sign in" }).click();
  await page.getByLabel("Token").fill(readFileSync(join(folder, "malga.token"), "utf8"));
  await page.keyboard.press("Enter");
  await row().waitFor();
  expect(await row().locator(".value").textContent()).toContain("10\u00A0min");
  expect((await row().locator(".meaning").textContent())?.length).toBeGreaterThan(15);
  expect(await page.locator(".key").count()).toBeGreaterThan(60);
  expect(await accessFaults(page)).toEqual([]);
  const widthPx = await page.evaluate("document.documentElement.scrollWidth");
  expect(widthPx).toBeLessThanOrEqual(360);
});

test("a mistake is told with its line, and cannot be applied", async () => {
  const before = file();
  await page.getByLabel("Search").fill("water-heater.minRun");
  await row().getByRole("button", { name: "Change" }).click();
  await write("12 bananas");
  await bar()
    .getByText(/site\.yaml:\d+:\d+/u)
    .waitFor();
  expect(await bar().getByRole("button", { name: "Apply" }).isDisabled()).toBe(true);
  expect(file()).toBe(before);
  expect(await accessFaults(page)).toEqual([]);
});

test("a change is shown line by line, applied to the file with its comments, taken back", async () => {
  const before = file();
  await write("12 min");
  await bar().locator(".added").filter({ hasText: "+     minRun: 12 min" }).waitFor();
  await bar().getByRole("button", { name: "Apply" }).click();
  await bar().getByText("The new settings are in force.").waitFor();
  expect(file()).toBe(before.replace("minRun: 10 min", "minRun: 12 min"));
  await row().locator(".value").filter({ hasText: "12 min" }).waitFor();
  await bar().getByRole("button", { name: "Undo" }).click();
  await bar().getByText("The last change is taken back.").waitFor();
  expect(file()).toBe(before);
  expect(troubles).toEqual([]);
});

test("an optional key is taken out, shown as gone line by line, and brought back", async () => {
  const before = file();
  await page.getByLabel("Search").fill("whey-cooler.startsPerHour");
  const optional = page
    .locator(".key")
    .filter({ hasText: "loads.whey-cooler.startsPerHour" })
    .first();
  await optional.getByRole("button", { name: "Change" }).click();
  await optional.getByRole("button", { name: "Take it out" }).click();
  await optional.getByText("taken out").waitFor();
  await bar().getByRole("button", { name: "Check" }).click();
  await bar().locator(".removed").filter({ hasText: "startsPerHour: 3" }).waitFor();
  expect(await bar().locator(".added").count()).toBe(0);
  expect(await accessFaults(page)).toEqual([]);
  await bar().getByRole("button", { name: "Apply" }).click();
  await bar().getByText("The new settings are in force.").waitFor();
  expect(file()).toBe(before.replace(/^ *startsPerHour: 3\n/mu, ""));
  await bar().getByRole("button", { name: "Undo" }).click();
  await bar().getByText("The last change is taken back.").waitFor();
  expect(file()).toBe(before);
});

test("a key that must be there cannot be taken out", async () => {
  const before = file();
  await page.getByLabel("Search").fill("battery.capacity");
  const needed = page
    .locator(".key")
    .filter({ hasText: /^battery\.capacity/u })
    .first();
  await needed.getByRole("button", { name: "Change" }).click();
  await needed.getByRole("button", { name: "Take it out" }).click();
  await bar().getByRole("button", { name: "Check" }).click();
  await bar().locator("pre.alert").filter({ hasText: "battery.capacity" }).waitFor();
  expect(await bar().getByRole("button", { name: "Apply" }).isDisabled()).toBe(true);
  await needed.getByRole("button", { name: "Keep it" }).click();
  await bar().getByText("Nothing changed.").waitFor();
  expect(file()).toBe(before);
  expect(troubles).toEqual([]);
});
