// Makes the pictures of the dashboard in docs/images/: `node deploy/shoot-dashboard.mjs` after
// `npm run build`; another folder may follow. CHROMIUM=/path/to/program uses that browser.
// What happens now is the demo's; days and settings are those of a service over a recorded past.
import { spawn } from "node:child_process";
import { cpSync, mkdirSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import { once } from "node:events";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { setTimeout as pause } from "node:timers/promises";
import { chromium } from "playwright-core";

const OUT = process.argv[2] ?? "docs/images";
const PROGRAM = resolve("dist/service/main.js");
const PAST = resolve("test/data/releases/0.1.0");
const DAY = "2025-06-12";
const FREE_PORTS = ["--set", "web.port=0", "--set", "broker.embedded.port=0"];
const SIZES = [
  { name: "phone", viewport: { width: 360, height: 740 }, colorScheme: "light" },
  { name: "phone-dark", viewport: { width: 360, height: 740 }, colorScheme: "dark" },
  { name: "desk", viewport: { width: 1440, height: 900 }, colorScheme: "light" },
  { name: "desk-dark", viewport: { width: 1440, height: 900 }, colorScheme: "dark" },
];
/** What a page has when it has all that it shows. */
const AWAITED = {
  now: ".load",
  events: "h1",
  signals: "tbody tr",
  days: "figure svg",
  settings: ".key",
  times: ".appliance",
};
/** A picture with something running in it; real time until then at the most. [ms] */
const WAIT_MS = 600_000;
/** Far longer than the pictures of a demo take: one that has ended has nothing to show. */
const DEMO = ["demo", "--for", "2400h"];

/** Runs the program until it has said all of these; its output may come in pieces. */
async function start(args, cwd, patterns) {
  const options = { cwd, stdio: ["ignore", "pipe", "inherit"] };
  const child = spawn(process.execPath, [PROGRAM, ...args, ...FREE_PORTS], options);
  let text = "";
  for await (const piece of child.stdout.iterator({ destroyOnReturn: false })) {
    text += piece;
    if (patterns.every((pattern) => pattern.test(text))) break;
  }
  const said = patterns.map((pattern) => pattern.exec(text)?.slice(1));
  if (said.includes(undefined)) throw new Error(`bywash ${args[0]} ended too early:\n${text}`);
  child.stdout.resume();
  return { child, said };
}

/** @throws Error if what the address tells is never so. */
async function waitUntil(address, isSo) {
  const untilMs = performance.now() + WAIT_MS;
  while (!isSo(await (await fetch(address)).json())) {
    if (performance.now() > untilMs) throw new Error(`nothing to picture at ${address}`);
    await pause(100);
  }
}

const areTwoOn = ({ loads }) => loads.filter(({ stage }) => stage > 0).length >= 2;
const isAdvised = ({ appliances }) => appliances.some(({ code }) => code === "good-later");

async function signIn(page, token) {
  await page.getByRole("button", { name: "Sign in" }).click();
  await page.getByLabel("Token").fill(token);
  await page.keyboard.press("Enter");
  await page.getByRole("button", { name: "Sign out" }).waitFor();
}

async function openAll(browser, web) {
  const opened = [];
  for (const { name, viewport, colorScheme } of SIZES) {
    const context = await browser.newContext({ viewport, colorScheme, locale: "en-GB" });
    const page = await context.newPage();
    await page.goto(web);
    opened.push({ name, page });
  }
  return opened;
}

async function shoot({ name, page }, web, path) {
  await page.goto(`${web}/#/${path}`);
  await page.locator(AWAITED[path.split("/")[0]]).first().waitFor();
  await pause(300);
  await page.screenshot({ path: `${OUT}/${path.split("/")[0]}-${name}.png` });
}

async function shootDemo(browser) {
  const flags = [...DEMO, "--speed", "1200"];
  const patterns = [/(http:\/\/[^/\s]+)\//, /the text in (\S+)/];
  const { child, said } = await start(flags, process.cwd(), patterns);
  try {
    const [[web], [tokenFile]] = said;
    const opened = await openAll(browser, web);
    for (const { page } of opened) await signIn(page, readFileSync(tokenFile, "utf8"));
    // The demo runs on meanwhile: each picture is of its own hour, and each has something to show.
    for (const shown of opened) {
      await waitUntil(`${web}/api/state`, areTwoOn);
      for (const path of ["now", "events", "signals"]) await shoot(shown, web, path);
      if (shown.name !== "phone") continue;
      await waitUntil(`${web}/api/state`, areTwoOn);
      await shown.page.goto(`${web}/#/now`);
      await shown.page.locator(".load summary").first().click();
      await shown.page.locator("#loads-heading").evaluate((heading) => heading.scrollIntoView());
      await shown.page.screenshot({ path: `${OUT}/ask-phone.png` });
    }
  } finally {
    child.kill();
  }
}

/** With another start of the heater, as far as a screen shows it. */
async function shootWhatIf({ name, page }) {
  await page.getByRole("slider", { name: /^Starts at/ }).fill("4");
  await page.getByRole("button", { name: "Replay this day" }).click();
  await page.locator("#what-if-result").waitFor();
  await page.locator("#what-if-heading").evaluate((heading) => heading.scrollIntoView());
  await pause(300);
  await page.screenshot({ path: `${OUT}/what-if-${name}.png` });
}

/** The outlook knows a site after two days; then the first hours of a day are waited for. */
async function shootTimes(browser) {
  const flags = [...DEMO, "--speed", "1800"];
  const { child, said } = await start(flags, process.cwd(), [/(http:\/\/[^/\s]+)\//]);
  try {
    const [[web]] = said;
    for (const shown of await openAll(browser, web)) {
      await waitUntil(`${web}/api/guidance`, isAdvised);
      await shoot(shown, web, "times");
    }
  } finally {
    child.kill();
  }
}

async function shootPast(browser) {
  const folder = mkdtempSync(join(tmpdir(), "bywash-shoot-"));
  cpSync(PAST, folder, { recursive: true });
  const flags = ["serve", "--config", "site.yaml", "--shadow"];
  flags.push("--set", "web.editing=true", "--set", "history.folder=.");
  flags.push("--set", "history.samples=3660 d");
  const where = /"web":\{"host":"([^"]+)","port":(\d+)\}.*"msg":"service runs"/;
  const { child, said } = await start(flags, folder, [where]);
  try {
    const [[host, port]] = said;
    const web = `http://${host}:${port}`;
    const token = readFileSync(join(folder, "malga.token"), "utf8");
    for (const shown of await openAll(browser, web)) {
      await signIn(shown.page, token);
      await shoot(shown, web, `days/${DAY}`);
      await shootWhatIf(shown);
      await shoot(shown, web, "settings");
    }
  } finally {
    child.kill();
    await once(child, "exit");
    rmSync(folder, { recursive: true, force: true });
  }
}

mkdirSync(OUT, { recursive: true });
const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM || "/usr/bin/chromium",
  args: ["--no-sandbox"],
});
try {
  await shootDemo(browser);
  await shootTimes(browser);
  await shootPast(browser);
} finally {
  await browser.close();
}
