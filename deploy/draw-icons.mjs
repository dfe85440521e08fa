// Draws the home screen's icons out of service/dashboard/public/stair.svg: `node
// deploy/draw-icons.mjs` whenever that picture changes. CHROMIUM=/path/to/program uses that browser.
import { readFileSync, writeFileSync } from "node:fs";
import { chromium } from "playwright-core";

const FOLDER = "service/dashboard/public";
const PAPER = "#fbfaf6";
const drawing = readFileSync(`${FOLDER}/stair.svg`, "utf8");
/** A mask may cut away a fifth of each side; the picture of a maskable icon keeps clear of it. */
const ICONS = [
  { name: "stair-192.png", size: 192, share: 1 },
  { name: "stair-512.png", size: 512, share: 1 },
  { name: "stair-maskable-512.png", size: 512, share: 0.6 },
];

const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM || "/usr/bin/chromium",
  args: ["--no-sandbox"],
});
try {
  for (const { name, size, share } of ICONS) {
    const page = await browser.newPage({ viewport: { width: size, height: size } });
    const edge = (100 * (1 - share)) / 2;
    const ground = share === 1 ? "transparent" : PAPER;
    await page.setContent(
      `<style>body{margin:0;background:${ground}}svg{position:absolute;inset:${edge}%;` +
        `width:${100 * share}%;height:${100 * share}%}</style>${drawing}`,
    );
    writeFileSync(`${FOLDER}/${name}`, await page.screenshot({ omitBackground: true }));
    await page.close();
  }
} finally {
  await browser.close();
}
