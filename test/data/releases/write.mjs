// What a version leaves on the disk: `npm run release`.
//
// A simulated shed and the real daemon over a real broker, for a morning, until loads run. The
// folder is named after the version of package.json, and is never written a second time: every
// later version is held to it.
import { copyFileSync, existsSync, mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { loadSite } from "../../../dist/config/load.js";
import { createRigRun } from "../../../dist/service/cli/rig-run.js";
import { step } from "../../../dist/service/control/step.js";
import { createScribe } from "../../../dist/service/history/scribe.js";
import { syntheticDay } from "../../../dist/simulator/weather/synthetic-day.js";

const OVERRIDES = ["site.tick=30 s", "broker.embedded.port=0", "web.port=0"];
const DATE = "2025-06-12";
const FROM_MINUTE = 9 * 60;
const FOR_MS = 3.5 * 3_600_000;

const { version } = JSON.parse(readFileSync("package.json", "utf8"));
const folder = fileURLToPath(new URL(`./${version}`, import.meta.url));
if (existsSync(folder)) throw new Error(`${folder} is there already`);
mkdirSync(folder);
const path = join(folder, "site.yaml");
copyFileSync("config/examples/malga.yaml", path);
const token = `web.tokenFile=${join(tmpdir(), `bywash-release-${process.pid}`)}`;
const site = loadSite({ path, overrides: [...OVERRIDES, token, `history.folder=${folder}`] });
const { receive } = createScribe(
  { history: site.history, control: site.control, codeVersion: version, wallMs: 0 },
  (message) => {
    if (message.kind === "said") throw new Error(message.message);
  },
);
let last = null;
const nothing = () => undefined;
const none = { debug: nothing, info: nothing, warn: nothing, error: nothing };
const demo = createRigRun({
  site,
  days: [fromMinute(syntheticDay({ site, localDate: DATE, seed: 1, kind: "broken" }))],

  startFraction: 0.95,
  speed: 100_000,
  forMs: FOR_MS,
  step(memoryBefore, observation, settings) {
    const result = step(memoryBefore, observation, settings);
    receive({ kind: "tick", tick: { observation, ...result }, memoryBefore });
    last = { observation, memory: result.memory };
    return result;
  },
  log: { ...none, part: () => none },
  version,
  mayBridge: false,
  elsewhere: null,
  hasWeb: false,
  listener: { onReady: () => Promise.resolve(), onDecision: nothing },
});
await demo.run();
receive({ kind: "close", ticket: 1 });
// What a person would say that this run remembers, for the test to ask for.
const remembered = last.memory.loads.map((load) => ({
  id: load.id,
  stage: load.stage,
  latch: load.latch,
  day: load.day,
  ranTodayMs: load.ranTodayMs,
  usedTodayWh: load.usedTodayWh,
  startsToday: load.startsToday,
  learnedW: load.draw.learnedW,
}));
const { wallMs, monotonicMs } = last.observation;
const about = { version, wallMs, monotonicMs, fullOnDay: last.memory.battery.fullOnDay, remembered };
writeFileSync(join(folder, "about.json"), `${JSON.stringify(about, null, 2)}\n`);

function fromMinute(day) {
  const columns = [...day.columns].map(([name, values]) => [name, values.subarray(FROM_MINUTE)]);
  return { ...day, timesMs: day.timesMs.subarray(FROM_MINUTE), columns: new Map(columns) };
}
