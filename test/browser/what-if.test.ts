/** What-if on the page of a real service, over the morning that a release has recorded. */
import { execFileSync } from "node:child_process";
import { closeSync, constants, cpSync, mkdtempSync, openSync } from "node:fs";
import { readFileSync, renameSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import type { Browser, BrowserContextOptions, Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import { accessFaults, openBrowser, openPage } from "../support/browser.ts";
import type { WatchedPage } from "../support/browser.ts";
import { bywash, serveOnFreePorts } from "../support/command-line.ts";

const DATE = "2025-06-12";
let folder = "";
let service: Awaited<ReturnType<typeof serveOnFreePorts>>;
let browser: Browser;
let signedIn: Exclude<BrowserContextOptions["storageState"], undefined>;

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), "bywash-what-if-"));
  cpSync("test/data/releases/0.1.0", folder, { recursive: true });
  service = await serveOnFreePorts(
    folder,
    ...["history.folder=.", "history.samples=3660 d", "web.editing=true"].flatMap((one) => [
      "--set",
      one,
    ]),
  );
  browser = await openBrowser();
  const { page } = await openPage(browser);
  await page.goto(`${service.url}/#/days/${DATE}`);
  await page.getByText("sign in for that").waitFor();
  await page.getByRole("button", { name: "Sign in" }).click();
  await page.getByLabel("Token").fill(readFileSync(join(folder, "malga.token"), "utf8"));
  await page.keyboard.press("Enter");
  await page.getByRole("button", { name: "Sign out" }).waitFor();
  signedIn = await page.context().storageState();
  await page.context().close();
});
afterAll(async () => {
  await browser.close();
  service.process.kill("SIGTERM");
  expect((await service.ended).code).toBe(0);
  rmSync(folder, { recursive: true });
});

const file = () => readFileSync(join(folder, "site.yaml"), "utf8");

async function openDay(options: BrowserContextOptions = {}): Promise<WatchedPage> {
  const opened = await openPage(browser, { storageState: signedIn, ...options });
  await opened.page.goto(`${service.url}/#/days/${DATE}`);
  await opened.page.getByLabel("What to change").waitFor();
  return opened;
}

async function write(page: Page, key: string, value: string): Promise<void> {
  await page.getByLabel("What to change").selectOption("another key");
  await page.getByLabel("Key", { exact: true }).fill(key);
  await page.getByLabel("Value", { exact: true }).fill(value);
  await page.getByRole("button", { name: "Take it up" }).click();
}

const begin = (page: Page) => page.getByRole("button", { name: "Replay this day" }).click();
const figures = (page: Page, name: string) =>
  page
    .getByRole("row", { name: new RegExp(`^${name}`, "u") })
    .locator("td")
    .allTextContents();

describe.each(["light", "dark"] as const)("%s", (colorScheme) => {
  test.each([
    { width: 360, height: 740 },
    { width: 820, height: 1180 },
    { width: 1440, height: 900 },
  ])("a replay at $width × $height: no trouble, and open to all", async (viewport) => {
    const { page, troubles, requests } = await openDay({ viewport, colorScheme });
    await page.getByRole("slider", { name: /^Starts at/u }).fill("4");
    expect(await accessFaults(page)).toEqual([]);
    await begin(page);
    await page.locator("#what-if-result").waitFor();
    await page.locator(".what-if .ribbon .soc-beside").waitFor();
    expect(await accessFaults(page)).toEqual([]);
    const widthPx = await page.evaluate("document.documentElement.scrollWidth");
    expect(widthPx).toBeLessThanOrEqual(viewport.width);
    expect(troubles).toEqual([]);
    const outside = requests.filter((url) => !url.startsWith(`${service.url}/`));
    expect(outside).toEqual([]);
    await page.context().close();
  });
});

test("the figures stand beside one another, and a sentence tells the difference", async () => {
  const { page } = await openDay();
  await write(page, "loads.water-heater.tank.surplus", "50 °C");
  await begin(page);
  await page.locator("#what-if-result").waitFor();
  const [measured, asSet, changed] = await figures(page, "Water heater");
  expect(measured).toBe("6.15\u00A0kWh");
  const [asSetKwh, changedKwh] = [asSet, changed].map((text) => parseFloat(text ?? ""));
  expect(Math.abs((asSetKwh ?? NaN) - 6.15)).toBeLessThan(0.3);
  expect(changedKwh).toBeLessThan(3);
  const words = await page.locator(".what-if .balance").textContent();
  expect(words).toMatch(/k?Wh less into Water heater, 200 L, for cleaning the vats/u);
  expect(words).toContain("the battery’s reserve untouched");
  await page.context().close();
});

test("it goes by keyboard alone, and is proposed, never applied by itself", async () => {
  const before = file();
  const { page } = await openDay();
  const tabTo = async (locator: ReturnType<Page["getByRole"]>): Promise<void> => {
    for (let presses = 0; presses < 60; presses += 1) {
      if (await locator.evaluate((one) => one.matches(":focus"))) return;
      await page.keyboard.press("Tab");
    }
    throw new Error("not reached by Tab");
  };
  await tabTo(page.getByLabel("What to change"));
  await page.keyboard.press("Tab");
  for (let presses = 0; presses < 3; presses += 1) await page.keyboard.press("ArrowRight");
  await page.getByText("Starts at 3.5 % over the rule curve; set: 2 %").waitFor();
  await tabTo(page.getByRole("button", { name: "Replay this day" }));
  await page.keyboard.press("Enter");
  await page.locator("#what-if-result").waitFor();
  await tabTo(page.getByRole("button", { name: "Propose this change" }));
  await page.keyboard.press("Enter");
  const bar = page.getByRole("region", { name: "Changes" });
  await bar.getByText("1 changed, not applied.").waitFor();
  await bar.getByRole("button", { name: "Check" }).press("Enter");
  await bar.locator(".added").filter({ hasText: "aboveRuleCurve: 3.5 %" }).waitFor();
  expect(file()).toBe(before);
  // Once taken up they are the settings page's own, and do not come back.
  await page.goto(`${service.url}/#/days/${DATE}`);
  await page.getByLabel("What to change").waitFor();
  await page.goto(`${service.url}/#/settings`);
  await bar.getByText("Nothing changed.").waitFor();
  await page.context().close();
});

test("the height is dragged on the picture, and the slider goes along", async () => {
  const { page } = await openDay();
  const slider = page.getByRole("slider", { name: /^Starts at/u });
  expect(await slider.inputValue()).toBe("2");
  const grip = page.locator(".height .grip path");
  await grip.scrollIntoViewIfNeeded();
  const box = await grip.boundingBox();
  if (box === null) throw new Error("no grip");
  const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
  await page.mouse.move(x, y);
  await page.mouse.down();
  await page.mouse.move(x, y - 20, { steps: 4 });
  await page.mouse.up();
  const dropped = await slider.inputValue();
  expect(Number(dropped)).toBeGreaterThan(2.5);
  await page.mouse.move(x, y - 60, { steps: 4 });
  expect(await slider.inputValue()).toBe(dropped);
  await page.getByRole("button", { name: /^Drop/u }).click();
  expect(await slider.inputValue()).toBe("2");
  await page.context().close();
});

/**
 * Whoever reads the settings file waits: so a replay is under way, however fast the machine is.
 *
 * @returns Puts the file back, and lets whoever waits go on.
 */
function holdBackSettings(): () => void {
  const [path, kept, pipe] = ["site.yaml", "kept.yaml", "pipe"].map((name) => join(folder, name));
  renameSync(path!, kept!);
  execFileSync("mkfifo", [path!]);
  return () => {
    renameSync(path!, pipe!);
    renameSync(kept!, path!);
    closeSync(openSync(pipe!, constants.O_RDWR));
  };
}

test("what is under way can be given up, and another one begun", async () => {
  const { page } = await openDay();
  await page.getByRole("slider", { name: /^Starts at/u }).fill("4");
  const giveItsSettings = holdBackSettings();
  await begin(page);
  await page.getByRole("button", { name: "Cancel" }).click();
  await page.getByText("Cancelled.").waitFor();
  giveItsSettings();
  expect(await page.locator("#what-if-result").count()).toBe(0);
  await begin(page);
  await page.locator("#what-if-result").waitFor();
  await page.context().close();
});

test("what cannot be is said in the words of the check", async () => {
  const { page } = await openDay();
  await write(page, "loads.water-heater.minRun", "12 bananas");
  await begin(page);
  await page.getByText("That cannot be replayed.").waitFor();
  const alarm = await page.locator(".what-if .alert").textContent();
  expect(alarm).toContain("loads.water-heater.minRun");
  expect(alarm).toContain("12 bananas");
  expect(await accessFaults(page)).toEqual([]);
  await page.context().close();
});

test("the day is taken along as a file that `bywash replay` reads, and as a picture", async () => {
  const { page } = await openDay();
  const saved = async (role: "link" | "button", name: string): Promise<string> => {
    const [download] = await Promise.all([
      page.waitForEvent("download"),
      page.getByRole(role, { name }).click(),
    ]);
    const path = join(folder, download.suggestedFilename());
    await download.saveAs(path);
    return path;
  };
  const dayFile = await saved("link", "Day file");
  expect(dayFile).toContain(`malga-${DATE}.csv`);
  const typed = await bywash(["replay", dayFile, "--config", join(folder, "site.yaml"), "--json"]);
  expect(typed).toMatchObject({ code: 0, stderr: "" });
  expect(typed.stdout).toContain(`"date": "${DATE}"`);

  const picture = await saved("button", "Picture");
  const text = readFileSync(picture, "utf8");
  expect(text.replaceAll('xmlns="http://www.w3.org/2000/svg"', "")).not.toMatch(
    /https?:|href|class/u,
  );
  const alone = await page.context().newPage();
  await alone.goto(`file://${picture}`);
  expect(await alone.title()).toContain(DATE);
  const words = await alone.locator("text").allTextContents();
  expect(words).toEqual(
    expect.arrayContaining(["everyday use", "rule curve", "12:00", "100\u00A0%"]),
  );
  const fills = await alone
    .locator("path")
    .evaluateAll((paths) => paths.map((path) => path.getAttribute("fill")));
  expect(new Set(fills).size).toBeGreaterThan(3);
  await page.context().close();
});
