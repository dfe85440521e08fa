// Makes the pictures of the dashboard in docs/images/ from the demo: `node deploy/shoot-dashboard.mjs`
// after `npm run build`; a folder and flags of the demo may follow. CHROMIUM=/path/to/program uses that browser.
import { spawn } from "node:child_process";
import { mkdirSync } from "node:fs";
import { on } from "node:events";
import { setTimeout as pause } from "node:timers/promises";
import { chromium } from "playwright-core";

const OUT = process.argv[2] ?? "docs/images";
const PAGES = ["now", "events", "signals"];
const SIZES = [
  { name: "phone", viewport: { width: 360, height: 740 }, pages: PAGES, colorScheme: "light" },
  { name: "desk", viewport: { width: 1440, height: 900 }, pages: PAGES, colorScheme: "light" },
  {
    name: "desk-dark",
    viewport: { width: 1440, height: 900 },
    pages: ["now"],
    colorScheme: "dark",
  },
];
/** A picture with something running in it; real time until then at the most. [ms] */
const WAIT_MS = 60_000;

/** The heading may come in pieces. */
async function addressIn(output) {
  let text = "";
  for await (const [piece] of on(output, "data")) {
    text += piece;
    const found = /(http:\/\/[^/\s]+)\//.exec(text);
    if (found !== null) break;
  }
  output.resume();
  return /(http:\/\/[^/\s]+)\//.exec(text)[1];
}

mkdirSync(OUT, { recursive: true });
const demo = spawn(
  process.execPath,
  [
    ...["dist/service/main.js", "demo", "--speed", "1200", "--for", "72h"],
    ...["--set", "web.port=0", "--set", "broker.embedded.port=0", ...process.argv.slice(3)],
  ],
  { stdio: ["ignore", "pipe", "inherit"] },
);
try {
  const web = await addressIn(demo.stdout);
  const browser = await chromium.launch({
    executablePath: process.env.CHROMIUM || "/usr/bin/chromium",
    args: ["--no-sandbox"],
  });
  const opened = [];
  for (const { name, viewport, pages, colorScheme } of SIZES) {
    const context = await browser.newContext({ viewport, colorScheme, locale: "en-GB" });
    const page = await context.newPage();
    await page.goto(web);
    opened.push({ name, page, pages });
  }
  for (let waitedMs = 0; waitedMs < WAIT_MS; waitedMs += 500) {
    const { loads } = await (await fetch(`${web}/api/state`)).json();
    if (loads.filter(({ stage }) => stage > 0).length >= 2) break;
    await pause(500);
  }
  for (const { name, page, pages } of opened) {
    for (const path of pages) {
      await page.goto(`${web}/#/${path}`);
      await pause(300);
      await page.screenshot({ path: `${OUT}/${path}-${name}.png` });
    }
  }
  await browser.close();
} finally {
  demo.kill();
}
