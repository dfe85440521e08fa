/** The page as an app on the home screen, and what it shows while the service is out of reach. */
import { resolve } from "node:path";
import type { Browser } from "playwright-core";
import { afterAll, beforeAll, expect, test } from "vitest";
import { accessFaults, openBrowser, openPage } from "../support/browser.ts";
import { createTestApp } from "../support/web-app.ts";

interface Icon {
  readonly src: string;
  readonly type: string;
  readonly sizes: string;
  readonly purpose?: string;
}
interface Manifest {
  readonly name: string;
  readonly short_name: string;
  readonly start_url: string;
  readonly scope: string;
  readonly display: string;
  readonly icons: readonly Icon[];
}

const dashboardFolder = resolve("dist/service/dashboard/built");
const { app } = createTestApp({ dashboardFolder });
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

/** @source W3C Web Application Manifest; sizes that Chromium asks for: common practice, no source */
test("the manifest lets the page be installed, with icons of the sizes that it names", async () => {
  const { page } = await openPage(browser);
  await page.goto(web);
  const href = await page.locator('link[rel="manifest"]').getAttribute("href");
  const response = await page.request.get(`${web}${href ?? ""}`);
  expect(response.headers()["content-type"]).toMatch(/^application\/manifest\+json/u);
  const manifest = (await response.json()) as Manifest;
  expect(manifest).toMatchObject({ start_url: "/", scope: "/", display: "standalone" });
  expect(manifest.name.length).toBeGreaterThan(0);
  expect(manifest.short_name.length).toBeLessThanOrEqual(12);
  const drawn = manifest.icons.filter(({ type }) => type === "image/png");
  expect(drawn.map(({ sizes }) => sizes).sort()).toEqual(["192x192", "512x512", "512x512"]);
  expect(drawn.filter(({ purpose }) => purpose === "maskable").length).toBe(1);
  for (const { src, type, sizes } of drawn) {
    const icon = await page.request.get(`${web}${src}`);
    expect(icon.headers()["content-type"]).toBe(type);
    const bytes = await icon.body();
    // PNG (ISO/IEC 15948), 11.2.2: width and height are the first two words of the header chunk.
    const size = `${String(bytes.readUInt32BE(16))}x${String(bytes.readUInt32BE(20))}`;
    expect(size).toBe(sizes);
  }
  await page.context().close();
});

test("Chromium itself finds nothing that keeps the page from being installed", async () => {
  const { page, troubles } = await openPage(browser);
  await page.goto(web);
  await page.locator("h1").waitFor();
  const devtools = await page.context().newCDPSession(page);
  const { errors } = await devtools.send("Page.getAppManifest");
  expect(errors).toEqual([]);
  const { installabilityErrors } = await devtools.send("Page.getInstallabilityErrors");
  // A private window installs nothing, whatever the page is like.
  const others = installabilityErrors.filter(({ errorId }) => errorId !== "in-incognito");
  expect(others).toEqual([]);
  expect(troubles).toEqual([]);
  await page.context().close();
});

test("a page whose service cannot be reached says so, shows nothing as fresh, and comes back", async () => {
  const { page } = await openPage(browser);
  await page.clock.install();
  await page.route("**/api/**", (route) => route.abort());
  await page.goto(web);
  await page.getByText("Asking the service").waitFor();
  await page.clock.runFor(20_000);
  await page.getByRole("alert").filter({ hasText: "The service does not answer." }).waitFor();
  await page.locator(".age", { hasText: "no answer" }).waitFor();
  expect(await page.locator(".age.fresh").count()).toBe(0);
  expect(await page.locator(".load").count()).toBe(0);
  expect(await accessFaults(page)).toEqual([]);
  await page.unroute("**/api/**");
  await page.clock.runFor(60_000);
  await page.locator(".age.fresh").waitFor();
  expect(await page.getByRole("alert").first().textContent()).toBe("");
  await page.context().close();
});
