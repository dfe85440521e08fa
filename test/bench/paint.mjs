// How soon the page shows something, and the stair, on a slow phone: Chromium with its processor
// and network slowed down by its own devtools, nothing in its cache, the service on this machine.
import { existsSync, readdirSync, statSync } from "node:fs";
import { join } from "node:path";
import { chromium } from "playwright-core";
import {
  embeddedAt,
  freePort,
  isReady,
  NotMeasured,
  startChatter,
  startDaemon,
  until,
  withCleanUp,
} from "./processes.mjs";
import { quantile } from "./report.mjs";
import { EXAMPLE_ALL, writeExampleSite } from "./site-file.mjs";

const BUILT = "dist/service/dashboard/built/assets";
const AIM_MS = 1_000;
const AIM_BYTES = 90_000;
const PER_SECOND = 20;
/** Telemetry comes slowly, and has to come before the service is ready. */
const READY_WITHIN_MS = 40_000;
const bytesPerS = (kilobits) => (kilobits * 1000) / 8;
/** The usual slow profiles of page audits; common practice, from memory. */
const PROFILES = [
  { name: "processor / 4, slow 4G", slower: 4, latencyMs: 150, downKbit: 1_600, upKbit: 750 },
  { name: "processor / 6, slow 4G", slower: 6, latencyMs: 150, downKbit: 1_600, upKbit: 750 },
  { name: "processor / 4, slow 3G", slower: 4, latencyMs: 400, downKbit: 400, upKbit: 400 },
  { name: "as the machine is", slower: 1, latencyMs: 0, downKbit: -1, upKbit: -1 },
];

export async function measurePaint({ starts }, { say, attempt }) {
  const result = [];
  const measured = await attempt("paint", () =>
    withCleanUp(async (scope) => {
      const web = await startSite(scope);
      const browser = await openBrowser(scope);
      for (const profile of PROFILES) {
        say(`paint: ${profile.name}, ${starts} times`);
        const loads = [];
        for (let count = 0; count < starts; count += 1) {
          loads.push(await load(browser, web, profile));
        }
        result.push({ ...profile, loads });
      }
      return result;
    }),
  );
  const sizes = scriptSizes();
  return {
    title: `First paint of the page, ${starts} cold loads each [ms]`,
    columns: ["median", "max", "stair", "max"],
    rows: (measured ?? []).map(({ name, loads }) => ({
      name,
      cells: [
        quantile(
          loads.map(({ paintMs }) => paintMs),
          0.5,
        ),
        Math.max(...loads.map(({ paintMs }) => paintMs)),
        quantile(
          loads.map(({ stairMs }) => stairMs),
          0.5,
        ),
        Math.max(...loads.map(({ stairMs }) => stairMs)),
      ].map((ms) => ms.toFixed(0)),
    })),
    notes: [
      `stair: until the loads of Now are there; aim: first paint under ${AIM_MS} ms on slow 4G`,
      `scripts: ${sizes.br} bytes by brotli, ${sizes.gz} by gzip; aim: under ${AIM_BYTES}`,
    ],
    result: { profiles: result, sizes },
  };
}

async function startSite(scope) {
  const webPort = await freePort();
  const at = embeddedAt(await freePort());
  const broker = { embedded: { port: Number(new URL(at.url).port) } };
  const daemon = startDaemon(scope, writeExampleSite(scope.folder, { broker, webPort }));
  startChatter(scope, at, { messages: EXAMPLE_ALL, perSecond: PER_SECOND });
  await until(() => isReady(webPort), { child: daemon, what: "ready", limitMs: READY_WITHIN_MS });
  return `http://127.0.0.1:${webPort}`;
}

async function openBrowser({ onEnd }) {
  const executablePath = process.env.CHROMIUM || "/usr/bin/chromium";
  if (!existsSync(executablePath)) throw new NotMeasured(`no browser at ${executablePath}`);
  const browser = await chromium.launch({ executablePath, args: ["--no-sandbox"] });
  onEnd(() => browser.close());
  return browser;
}

/** A context of its own has nothing in its cache. */
async function load(browser, web, { slower, latencyMs, downKbit, upKbit }) {
  const context = await browser.newContext({ viewport: { width: 360, height: 740 } });
  const page = await context.newPage();
  const devtools = await context.newCDPSession(page);
  await devtools.send("Network.enable");
  await devtools.send("Network.emulateNetworkConditions", {
    offline: false,
    latency: latencyMs,
    downloadThroughput: downKbit < 0 ? -1 : bytesPerS(downKbit),
    uploadThroughput: upKbit < 0 ? -1 : bytesPerS(upKbit),
  });
  await devtools.send("Emulation.setCPUThrottlingRate", { rate: slower });
  const begunMs = performance.now();
  await page.goto(`${web}/#/now`, { waitUntil: "commit" });
  await page.locator(".load").first().waitFor();
  const stairMs = performance.now() - begunMs;
  const paintMs = await page.evaluate(
    () => performance.getEntriesByName("first-contentful-paint")[0]?.startTime ?? null,
  );
  await context.close();
  if (paintMs === null) throw new NotMeasured("the browser told no first paint");
  return { paintMs, stairMs };
}

function scriptSizes() {
  const files = readdirSync(BUILT);
  const sum = (ending) =>
    files
      .filter((name) => name.endsWith(`.js.${ending}`))
      .reduce((bytes, name) => bytes + statSync(join(BUILT, name)).size, 0);
  return { br: sum("br"), gz: sum("gz") };
}
