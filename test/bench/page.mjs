// From a message on the broker to where a person sees it: a tank's temperature among the signals,
// and what tripped an interlock above the stair, in a browser that has the page open.
//
// The page is asked at each of its frames, and its answer takes a few milliseconds to come here,
// which count as well.
import { existsSync } from "node:fs";
import { chromium } from "playwright-core";
import {
  deployedEnvironment,
  freePort,
  isReady,
  NotMeasured,
  sleep,
  startChatter,
  startClient,
  startDaemon,
  startMosquitto,
  until,
  withCleanUp,
} from "./processes.mjs";
import { summary } from "./report.mjs";
import {
  BATTERY_TOPIC,
  batteryPayload,
  EXAMPLE_ALL,
  HEALTHY_V,
  TRIP_V,
  writeExampleSite,
} from "./site-file.mjs";

const AIM_MS = 1_000;
/** [1] of `--trips` */
const SHARE = 0.25;
const WARM_UP = 3;
const PER_SECOND = 20;
const READY_WITHIN_MS = 40_000;
const SEEN_WITHIN_MS = 20_000;
/** Looks of the stream and ticks come at even steps: these phases fall on all of them. [ms] */
const PAUSE_MS = 700;
const PHASES_MS = 2_000;
const GOLDEN = 0.618034;

const TANK_TOPIC = "shed/tank/c";
const COLDEST_C = 40;
/** Each differs from the one before by more than the page rounds away. */
const temperatureC = (count) => COLDEST_C + (count % 30) + 0.5;

const CASES = [
  { name: "a tank's temperature, on Signals", path: "/#/signals", see: seeTemperatures },
  { name: "what trips an interlock, on Now", path: "/#/now", see: seeTrips },
];

export async function measurePage({ trips: tripsMax }, { say, attempt }) {
  const trips = Math.ceil(SHARE * tripsMax);
  const result = [];
  for (const one of CASES) {
    say(`page: ${one.name}, ${trips} times`);
    const seenMs = await attempt(`page, ${one.name}`, () => measureCase(one, trips));
    if (seenMs !== null) result.push({ name: one.name, seenMs });
  }
  return {
    title: `Message on the broker → on the open page, ${trips} times [ms]`,
    columns: ["p50", "p95", "max"],
    rows: result.map(({ name, seenMs }) => {
      const { p50, p95, max } = summary(seenMs);
      return { name, cells: [p50, p95, max].map((ms) => ms.toFixed(0)) };
    }),
    notes: [`aim: under ${AIM_MS} ms`, "the daemon as deployed, with Mosquitto"],
    result,
  };
}

function measureCase({ path, see }, trips) {
  return withCleanUp(async (scope) => {
    const at = await startMosquitto(scope);
    const webPort = await freePort();
    const file = writeExampleSite(scope.folder, { broker: at, webPort });
    const daemon = startDaemon(scope, file, deployedEnvironment());
    const ours = [TANK_TOPIC, BATTERY_TOPIC];
    const messages = EXAMPLE_ALL.filter(([topic]) => !ours.includes(topic));
    startChatter(scope, at, { messages, perSecond: PER_SECOND });
    const sensor = await startClient(scope, at, []);
    const tell = (topic, payload) => sensor.publish(topic, payload, { qos: 1 });
    const tellAll = () => {
      tell(TANK_TOPIC, String(COLDEST_C));
      tell(BATTERY_TOPIC, batteryPayload(HEALTHY_V));
    };
    const limitMs = READY_WITHIN_MS;
    await until(() => (tellAll(), isReady(webPort)), { child: daemon, what: "ready", limitMs });
    // The battery's own age must not be what the page alerts to.
    const beat = setInterval(() => tell(BATTERY_TOPIC, batteryPayload(voltageV.now)), PAUSE_MS);
    const voltageV = { now: HEALTHY_V };
    scope.onEnd(() => clearInterval(beat));
    const page = await openPage(scope, `http://127.0.0.1:${webPort}${path}`);
    return (await see({ page, tell, voltageV, count: WARM_UP + trips })).slice(WARM_UP);
  });
}

async function seeTemperatures({ page, tell, count }) {
  const seenMs = [];
  for (let index = 0; index < count; index += 1) {
    await sleep(PAUSE_MS + ((index * GOLDEN) % 1) * PHASES_MS);
    const text = temperatureC(index).toFixed(1);
    const startMs = performance.now();
    tell(TANK_TOPIC, text);
    seenMs.push((await seen(page, { among: "td.figure", text, isThere: true })) - startMs);
  }
  return seenMs;
}

async function seeTrips({ page, tell, voltageV, count }) {
  const alert = { among: ".alert.alarm", text: "V" };
  const seenMs = [];
  for (let index = 0; index < count; index += 1) {
    voltageV.now = HEALTHY_V;
    tell(BATTERY_TOPIC, batteryPayload(HEALTHY_V));
    await seen(page, { ...alert, isThere: false });
    await sleep(PAUSE_MS + ((index * GOLDEN) % 1) * PHASES_MS);
    const startMs = performance.now();
    voltageV.now = TRIP_V;
    tell(BATTERY_TOPIC, batteryPayload(TRIP_V));
    seenMs.push((await seen(page, { ...alert, isThere: true })) - startMs);
  }
  return seenMs;
}

/** @returns When some element's text had it, or when none had it. [ms] */
async function seen(page, what) {
  const isSo = ({ among, text, isThere }) =>
    [...document.querySelectorAll(among)].some((element) => element.textContent.includes(text)) ===
    isThere;
  try {
    await page.waitForFunction(isSo, what, { polling: "raf", timeout: SEEN_WITHIN_MS });
  } catch {
    throw new NotMeasured(`not within ${SEEN_WITHIN_MS} ms on the page: ${JSON.stringify(what)}`);
  }
  return performance.now();
}

async function openPage({ onEnd }, address) {
  const executablePath = process.env.CHROMIUM || "/usr/bin/chromium";
  if (!existsSync(executablePath)) throw new NotMeasured(`no browser at ${executablePath}`);
  const browser = await chromium.launch({ executablePath, args: ["--no-sandbox"] });
  onEnd(() => browser.close());
  const page = await browser.newPage({ locale: "en-GB" });
  await page.goto(address);
  await page.locator("h1").first().waitFor();
  return page;
}
