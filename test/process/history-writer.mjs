// A process that is made to be killed: it writes history through the real thread, and says what has
// been acknowledged. `node history-writer.mjs FOLDER`
import { resolve } from "node:path";
import { pathToFileURL } from "node:url";

const load = (path) => import(pathToFileURL(resolve("dist/service", path)).href);
const { createHistory } = await load("history/history.js");
const { systemClock } = await load("clock.js");

const [folder] = process.argv.slice(2);
const say = (fields, message) => console.log(`SAID ${message} ${JSON.stringify(fields)}`);
const history = createHistory({
  site: {
    control: { loads: [{ id: "spring-pump" }], panels: [], sources: [], inverter: { legs: [] } },
    history: {
      folder,
      samplesKeptDays: 400,
      eventsKeptDays: 400,
      journalKeptDays: 14,
      journalMaxBytes: 1e9,
    },
  },
  codeVersion: "1",
  clock: systemClock,
  log: { debug: say, info: say, warn: say, error: say },
});
await history.start();

const startMs = Date.now();
let memoryBefore = { version: 1, number: -1, loads: [] };
for (let number = 0; ; number += 1) {
  const reading = { value: number, quality: "fresh", ageMs: 0 };
  const memory = { version: 1, number, loads: [] };
  history.record({
    observation: {
      monotonicMs: number * 2000,
      wallMs: startMs + number,
      isWallClockPlausible: true,
      localDay: 20_000,
      localMinute: 0,
      battery: { voltageV: reading },
      inverter: {},
      sources: [],
      loads: [],
      panels: [],
    },
    memoryBefore,
    memory,
    decision: {
      site: { ruleCurveFraction: 0.5 },
      loadStages: [],
      loadPowersW: [],
      verdicts: [],
      panelsClosed: [],
      panelVerdicts: [],
      events: [{ about: "load", index: 0, change: "started", code: `number-${number}` }],
    },
  });
  memoryBefore = memory;
  // Sometimes many ticks pass between two acknowledgements, sometimes none.
  if (number % 5 < 3 && (await history.flush())) console.log(`ACKNOWLEDGED ${number}`);
}
