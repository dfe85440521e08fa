/** Signing in on the page, and asking a load to run or to stay off, over the simulated shed. */
import { readFileSync } from "node:fs";
import type { Browser, Locator, Page } from "playwright-core";
import { afterAll, beforeAll, expect, test } from "vitest";
import type { LoadView, StateView } from "../../service/state-view.ts";
import { accessFaults, openBrowser, openPage } from "../support/browser.ts";
import { startDemo } from "../support/demo-process.ts";
import type { DemoProcess } from "../support/demo-process.ts";

let demo: DemoProcess;
let browser: Browser;
let page: Page;
let troubles: readonly string[];

beforeAll(async () => {
  // A minute a second, from midnight on.
  const flags = ["--speed", "60", "--for", "48h"];
  demo = await startDemo(flags);
  browser = await openBrowser();
  ({ page, troubles } = await openPage(browser, { viewport: { width: 360, height: 740 } }));
  await page.goto(`${demo.web}/#/now`);
  await page.locator("h1").waitFor();
});
afterAll(async () => {
  await browser.close();
  demo.kill();
});

async function loadNow(id: string): Promise<LoadView | undefined> {
  const state = (await (await fetch(`${demo.web}/api/state`)).json()) as StateView;
  return state.loads.find((load) => load.id === id);
}

const item = (id: string): Locator => page.locator(`#load-${id}`);
const said = (id: string, words: RegExp): Promise<void> =>
  item(id).locator(".asked").filter({ hasText: words }).waitFor();

test("nothing can be asked before signing in, and a wrong token is refused in words", async () => {
  await item("water-heater").locator("summary").click();
  await item("water-heater").getByText("Sign in first").waitFor();
  expect(await page.getByRole("button", { name: /^Run / }).count()).toBe(0);
  await page.getByRole("button", { name: "Sign in" }).click();
  await page.getByLabel("Token").fill("not-the-token-of-this-service");
  await page.keyboard.press("Enter");
  await page.getByText("That is not this service's token.").waitFor();
  await page.getByLabel("Token").fill(readFileSync(demo.tokenFile, "utf8"));
  await page.keyboard.press("Enter");
  await page.getByRole("button", { name: "Sign out" }).waitFor();
  // The one refusal is the browser's own note of a 401.
  expect(troubles.filter((text) => !text.includes("401"))).toEqual([]);
  expect(await accessFaults(page)).toEqual([]);
});

test("a session is this browser's alone, and no script of the page can read it", async () => {
  expect(await page.evaluate("document.cookie")).toBe("");
  const [cookie] = await page.context().cookies();
  expect(cookie).toMatchObject({ name: "bywash_session", httpOnly: true, sameSite: "Strict" });
  await page.reload();
  await page.getByRole("button", { name: "Sign out" }).waitFor();
});

test("a run is shown as done when the switch has confirmed it, and so is holding off", async () => {
  await item("water-heater").locator("summary").click();
  await item("water-heater").locator("select").selectOption("14400");
  await page.getByRole("button", { name: /^Run now: Water heater/u }).click();
  await said("water-heater", /^Asked to run until \d\d:\d\d; its switch has confirmed it\.$/u);
  const running = await loadNow("water-heater");
  expect(running).toMatchObject({ isConfirmed: true, code: "running-asked" });
  expect(running?.stage).toBeGreaterThan(0);
  expect(await item("water-heater").locator(".why").textContent()).toMatch(
    /^On because it was asked for: .* more\.$/u,
  );
  expect(await accessFaults(page)).toEqual([]);
  await page.getByRole("button", { name: /^Hold off: Water heater/u }).click();
  await said("water-heater", /^Held off until \d\d:\d\d; its switch has confirmed it\.$/u);
  expect(await loadNow("water-heater")).toMatchObject({ stage: 0, asked: { wants: "hold" } });
  await page.getByRole("button", { name: /^Release Water heater/u }).click();
  await item("water-heater").locator(".asked:empty").waitFor({ state: "attached" });
  expect(await loadNow("water-heater")).toMatchObject({ stage: 0, asked: null });
});

test("what cannot be is refused with the reason", async () => {
  await item("whey-cooler").locator("summary").click();
  await page.getByRole("button", { name: "Run now: Compressor of the whey cooler" }).click();
  await said("whey-cooler", /^The load cannot do that now: off: outside its hours\.$/u);
  expect(await loadNow("whey-cooler")).toMatchObject({ stage: 0, asked: null });
});

test("whoever has signed out can ask nothing any more", async () => {
  await page.getByRole("button", { name: "Sign out" }).click();
  await page.getByRole("button", { name: "Sign in" }).waitFor();
  expect(await page.getByRole("button", { name: /^Run / }).count()).toBe(0);
  expect(await page.context().cookies()).toEqual([]);
});
