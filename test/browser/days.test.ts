/** Days and older events in Chromium, out of the history that a release has left. */
import { resolve } from "node:path";
import type { Browser } from "playwright-core";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import { unbroken } from "../../service/dashboard/format.ts";
import type { DayView, EventsView } from "../../service/past-desk.ts";
import type { StateView } from "../../service/state-view.ts";
import { accessFaults, openBrowser, openPage, partedQuantities } from "../support/browser.ts";
import type { PastDesk } from "../../service/past-desk.ts";
import { releasedPast } from "../support/released-past.ts";
import { createTestApp } from "../support/web-app.ts";

const DATE = "2025-06-12";
const { app } = createTestApp({
  past: withRequests(releasedPast()),
  dashboardFolder: resolve("dist/service/dashboard/built"),
});
let web: string;
let browser: Browser;

beforeAll(async () => {
  web = await app.listen({ host: "127.0.0.1", port: 0 });
  browser = await openBrowser();
});
afterAll(async () => {
  await browser.close();
  await app.close();
});

/** That morning had none: from ten on half an hour of running, then a quarter of staying off. */
function withRequests(past: PastDesk): PastDesk {
  return {
    ...past,
    async day(localDay) {
      const day = await past.day(localDay);
      const pump = day?.loads["spring-pump"];
      if (day === null || pump === undefined) return day;
      const asked = day.minutes.map((minute) =>
        minute < 600 || minute >= 645 ? null : minute < 630 ? "run" : "hold",
      );
      return { ...day, loads: { ...day.loads, "spring-pump": { ...pump, asked } } };
    },
  };
}

async function answerTo<Answer>(path: string): Promise<Answer> {
  return (await (await fetch(`${web}${path}`)).json()) as Answer;
}

describe.each(["light", "dark"] as const)("%s", (colorScheme) => {
  test.each([
    { width: 360, height: 740 },
    { width: 820, height: 1180 },
    { width: 1440, height: 900 },
  ])("a day at $width × $height: no trouble, and open to all", async (viewport) => {
    const { page, troubles, requests } = await openPage(browser, { viewport, colorScheme });
    await page.goto(`${web}/#/days`);
    await page.locator(".ribbon .soc").waitFor();
    await page.locator("#decisions-heading").waitFor();
    expect(await accessFaults(page)).toEqual([]);
    const widthPx = await page.evaluate("document.documentElement.scrollWidth");
    expect(widthPx).toBeLessThanOrEqual(viewport.width);
    expect(troubles).toEqual([]);
    expect(requests.filter((url) => !url.startsWith(`${web}/`))).toEqual([]);
    await page.context().close();
  });
});

test("the figures under the ribbon are those of the service, minute by minute", async () => {
  const { page } = await openPage(browser);
  await page.goto(`${web}/#/days/${DATE}`);
  const day = await answerTo<DayView>(`/api/days/${DATE}`);
  const cursor = page.getByLabel("Time of day");
  const readout = page.locator(".readout div", { hasText: "the sources gave" }).locator("dd");
  for (const place of [0, 30, 200]) {
    const minute = day.minutes[place] ?? 0;
    await cursor.fill(String(minute));
    const clock = `${String(Math.floor(minute / 60)).padStart(2, "0")}:${String(minute % 60).padStart(2, "0")}`;
    await page.getByRole("heading", { name: `At ${clock}`, exact: true }).waitFor();
    const powerW = day.sourcesPowerW[place] ?? 0;
    const wanted =
      powerW < 1000 ? `${powerW.toFixed(0)} W` : `${String(Math.round(powerW / 10) / 100)} kW`;
    expect(await readout.textContent()).toBe(unbroken(wanted));
  }
  await cursor.fill("60");
  await page.getByRole("heading", { name: "At 01:00", exact: true }).waitFor();
  expect(await readout.textContent()).toBe("not known");
  await page.context().close();
});

test.each([320, 345, 360, 390, 412])(
  "no line ends between number and unit at %i px",
  async (width) => {
    const { page } = await openPage(browser, { viewport: { width, height: 740 } });
    let seen = 0;
    for (const [path, awaited] of [
      [`days/${DATE}`, ".events li"],
      ["events", ".event"],
    ] as const) {
      await page.goto(`${web}/#/${path}`);
      await page.locator(awaited).first().waitFor();
      const quantities = await partedQuantities(page);
      expect(quantities.parted).toEqual([]);
      const widthPx = await page.evaluate("document.documentElement.scrollWidth");
      expect(widthPx).toBeLessThanOrEqual(width);
      seen += quantities.seen;
    }
    expect(seen).toBeGreaterThan(40);
    await page.context().close();
  },
);

test("today's outlook to sunset is dashed on the ribbon, and stands under it in words", async () => {
  const { page } = await openPage(browser);
  await page.route("**/api/stream", async (route) => {
    const outlook = {
      expectedWh: 9_000,
      cautiousWh: 6_000,
      baseWh: 2_000,
      sunsetSocFraction: 0.98,
      sunsetMs: Date.parse(`${DATE}T19:10:00Z`),
      isCompleting: false,
      startsAtMs: [Date.parse(`${DATE}T11:30:00Z`), null],
    };
    const state = await answerTo<StateView>("/api/state");
    const verdict = { ...state.verdict, socFraction: 0.9, outlook };
    const told = { ...state, at: `${DATE}T10:00:00Z`, verdict };
    const body = `event: state\ndata: ${JSON.stringify(told)}\n\n`;
    await route.fulfill({ contentType: "text/event-stream", body });
  });
  await page.goto(`${web}/#/days/${DATE}`);
  await page
    .getByText(/^Outlook to sunset at 21:10: .* 9\skWh, 6\skWh on the cautious side/u)
    .waitFor();
  await page.getByText(/Likely to start: .* about 13:30\./u).waitFor();
  expect(await page.locator(".ribbon path.outlook").getAttribute("d")).toMatch(/^M[\d.]+ [\d.]+L/u);
  expect(await page.locator(".simulated").count()).toBe(0);
  expect(await accessFaults(page)).toEqual([]);
  await page.context().close();
});

test("the cursor and the zoom go by keyboard", async () => {
  const { page } = await openPage(browser);
  await page.goto(`${web}/#/days/${DATE}`);
  const cursor = page.getByLabel("Time of day");
  const range = () => Promise.all(["min", "max"].map((name) => cursor.getAttribute(name)));
  const expectRange = (wanted: readonly string[]): Promise<void> =>
    expect.poll(range, { timeout: 60_000 }).toEqual(wanted);
  await cursor.focus();
  await page.keyboard.press("ArrowRight");
  await page.getByRole("heading", { name: "At 12:01" }).waitFor();
  await page.keyboard.press("Tab");
  await page.keyboard.press("Enter");
  await expectRange(["361", "1080"]);
  await page.getByRole("button", { name: "Later" }).press("Enter");
  await expectRange(["720", "1439"]);
  await page.getByRole("button", { name: "Wider" }).press("Enter");
  await expectRange(["0", "1439"]);
  await page.context().close();
});

test("hours on request are marked over the ribbon, named, and told in words", async () => {
  const { page } = await openPage(browser);
  await page.goto(`${web}/#/days/${DATE}`);
  const bars = page.locator(".asked-bars path");
  await bars.first().waitFor({ state: "attached" });
  const classes = await bars.evaluateAll((all) => all.map((bar) => bar.getAttribute("class")));
  expect(classes).toEqual(["run taken-0", "hold taken-0"]);
  const widths = await bars.evaluateAll((all) =>
    all.map((bar) => bar.getBoundingClientRect().width),
  );
  expect((widths[0] ?? NaN) / (widths[1] ?? NaN)).toBeCloseTo(2, 1);
  for (const name of ["ran on request", "held off on request"]) {
    await page.locator(".legend li", { hasText: name }).first().waitFor();
  }
  const pump = page.locator(".readout div", { hasText: "Pump from the spring" }).locator("dd");
  const told = async (minute: number) => {
    await page.getByLabel("Time of day").fill(String(minute));
    const clock = `At 10:${String(minute - 600)}`;
    await page.getByRole("heading", { name: clock, exact: true }).waitFor();
    return (await pump.textContent()) ?? "";
  };
  expect(await told(610)).toContain("W, on request");
  expect(await told(640)).toContain("W, held off on request");
  expect(await told(650)).not.toContain("request");
  await page.context().close();
});

test("every decision of the day is listed with its reason", async () => {
  const { page } = await openPage(browser);
  await page.goto(`${web}/#/days/${DATE}`);
  const { events } = await answerTo<EventsView>("/api/events");
  const items = page.locator(".events li");
  await items.first().waitFor();
  expect(await items.count()).toBe(events.length);
  await items.filter({ hasText: "Off: 90 min today, its quota is 90 min." }).first().waitFor();
  await page.context().close();
});

test("events from before the page was opened are found by owner and words", async () => {
  const { page } = await openPage(browser);
  await page.goto(`${web}/#/events`);
  const { events } = await answerTo<EventsView>("/api/events");
  const total = String(events.length);
  await page.getByText(`${total} of ${total} shown.`).waitFor();
  await page.getByLabel("Search").fill("quota");
  await page.locator(".events li", { hasText: "its quota is 90 min" }).waitFor();
  expect(await page.locator(".events li").count()).toBeLessThan(events.length);
  await page.getByLabel("Search").fill("no such words");
  await page.getByText(`0 of ${total} shown.`).waitFor();
  await page.context().close();
});

test("a day that was not recorded is said", async () => {
  const { page } = await openPage(browser);
  await page.goto(`${web}/#/days/2025-01-01`);
  await page.getByText("Nothing was recorded on that day").waitFor();
  await page.context().close();
});
