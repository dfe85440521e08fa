/** Good times in Chromium: advice of the service's own making, over the real service. */
import type { Browser, Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import { NO_TIMES } from "../../service/control/guidance/times-record.ts";
import { unbroken } from "../../service/dashboard/format.ts";
import { createGuidanceDesk } from "../../service/guidance-desk.ts";
import type { GuidanceView } from "../../service/guidance-view.ts";
import { appliance, localTimeOf, seenAt } from "../control/guidance/given.ts";
import { DAY_MINUTES, liveIn, outlookSite } from "../control/outlook/given.ts";
import { accessFaults, openBrowser, openPage } from "../support/browser.ts";
import { startDemo } from "../support/demo-process.ts";
import type { DemoProcess } from "../support/demo-process.ts";
import { createManualClock } from "../support/manual-clock.ts";
import { testSite } from "../support/site.ts";

const TWO_PICTURES =
  "new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))";

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

/** What the service says of a site that has lived some clear days, at an hour of the fifth. */
function adviceAt(hour: number, timesBefore: unknown = null): GuidanceView {
  const control = outlookSite();
  const days = liveIn(control, 5 * DAY_MINUTES, { clearness: () => 0.9, baseW: () => 300 });
  const oven = appliance({
    id: "bread-oven",
    label: "Bread oven",
    profile: [{ powerW: 2400, forMs: 5_400_000 }],
    windows: [{ fromMinute: 360, toMinute: 1200 }],
  });
  const desk = createGuidanceDesk({
    site: testSite({ control, appliances: [appliance(), oven] }),
    localTime: localTimeOf(control),
    clock: createManualClock(),
    timesBefore,
  });
  const minute = days[4 * DAY_MINUTES + hour * 60]!;
  const observation = seenAt(minute, control);
  desk.ticked({ memory: minute.memory, observation, verdict: minute.decision.site });
  return desk.view();
}

async function goTo(page: Page, name: string, advice: GuidanceView | null): Promise<void> {
  if (advice !== null) {
    await page.route("**/api/guidance", (route) => route.fulfill({ json: advice }));
  }
  await page.goto(`${demo.web}/#/${name}`);
  await page.locator("h1").waitFor();
}

describe.each(["light", "dark"] as const)("%s", (colorScheme) => {
  test.each([360, 820, 1440])("%i px wide: open to all, and nothing hangs over", async (width) => {
    const viewport = { width, height: 900 };
    const { page, troubles } = await openPage(browser, { viewport, colorScheme });
    await goTo(page, "times", adviceAt(5));
    await page.locator(".day-strip svg").first().waitFor();
    expect(await accessFaults(page)).toEqual([]);
    const widthPx = await page.evaluate("document.documentElement.scrollWidth");
    expect(widthPx).toBeLessThanOrEqual(width);
    expect(troubles).toEqual([]);
    await page.context().close();
  });
});

test("each appliance has the service's sentence, its cost now, and both days in words", async () => {
  const advice = adviceAt(5);
  const { page } = await openPage(browser);
  await goTo(page, "times", advice);
  const letters: string[] = [];
  for (const { id, label, sentence, days } of advice.appliances) {
    const card = page.locator(`section[aria-labelledby="appliance-${id}"]`);
    expect(await card.locator("h2").textContent()).toBe(label);
    const light = await card.locator(".light strong").textContent();
    expect(light?.toLowerCase()).toBe(`${unbroken(sentence).toLowerCase()}.`);
    expect(await card.textContent()).toContain("Started now: ");
    expect(days).toHaveLength(2);
    const stretches = await card.locator(".stretches").allTextContents();
    expect(stretches).toEqual(
      days.map(({ best }) =>
        best === null ? "No start is good." : expect.stringContaining(`. Best at ${best.local}.`),
      ),
    );
    letters.push(...(await card.locator(".letter").allTextContents()));
  }
  // The picture's letters are those of the stretches that are wide enough for one.
  expect([...new Set(letters)].sort()).toEqual(["C", "G", "S", "–"]);
  await page.context().close();
});

test("how often such times came true is told beside the word", async () => {
  const days = NO_TIMES.days.map(() => ({ said: 24, kept: 15 }));
  const advice = adviceAt(12, { ...NO_TIMES, days });
  const { page } = await openPage(browser, { viewport: { width: 360, height: 900 } });
  await goTo(page, "times", advice);
  const card = page.locator('section[aria-labelledby="appliance-pail-washer"]');
  const words =
    "Confidence low: such times came true on less than three days in four; " +
    "said so on 24 days before, true on 15.";
  await card.locator("p", { hasText: words }).waitFor();
  const widthPx = await page.evaluate("document.documentElement.scrollWidth");
  expect(widthPx).toBeLessThanOrEqual(360);
  await page.context().close();
});

test("by keyboard the stretches of a day are opened, hour by hour", async () => {
  const advice = adviceAt(5);
  const { page } = await openPage(browser);
  await goTo(page, "times", advice);
  const details = page.locator(".day details").first();
  await details.locator("summary").focus();
  await page.keyboard.press("Enter");
  await details.locator("li").first().waitFor();
  const lines = await details.locator("li").allTextContents();
  const [first] = advice.appliances[0]!.days;
  expect(lines).toEqual(
    first!.stretches.map(({ fromLocal, toLocal, grade }) => `${fromLocal} to ${toLocal}: ${grade}`),
  );
  await page.context().close();
});

test("Now has a line while something is good, and none otherwise", async () => {
  const { page } = await openPage(browser);
  await goTo(page, "now", adviceAt(12));
  const line = page.locator(".good-now");
  await line.filter({ hasText: "Washing machine for the milk pails, Bread oven." }).waitFor();
  await line.getByRole("link", { name: "Good times" }).click();
  await page.locator("h1", { hasText: "Good times" }).waitFor();
  await page.unroute("**/api/guidance");
  const [answer] = await Promise.all([
    page.waitForResponse("**/api/guidance"),
    goTo(page, "now", adviceAt(22)),
  ]);
  await answer.finished();
  await page.locator(".load").first().waitFor();
  // What it makes of the answer it has made by its second picture after it.
  await page.evaluate(TWO_PICTURES);
  expect(await line.count()).toBe(0);
  await page.context().close();
});

test("the service's own refusal is told, and no advice beside it", async () => {
  const { page } = await openPage(browser);
  await goTo(page, "times", null);
  const words = /^No advice now: .*It is not known yet what the site uses/u;
  await page.getByRole("status").filter({ hasText: words }).waitFor();
  expect(await page.locator(".appliance").count()).toBe(0);
  await page.context().close();
});

test("advice that can no longer be asked for is taken away", async () => {
  const { page } = await openPage(browser);
  await page.clock.install();
  await goTo(page, "times", adviceAt(12));
  await page.locator(".appliance").first().waitFor();
  await page.unroute("**/api/guidance");
  await page.route("**/api/guidance", (route) => route.abort());
  await page.clock.runFor(31_000);
  await page.locator(".appliance").first().waitFor({ state: "detached" });
  await page.locator("main h1 ~ .alert").filter({ hasText: /\w/u }).waitFor();
  expect(await page.locator(".appliance").count()).toBe(0);
  await page.context().close();
});
