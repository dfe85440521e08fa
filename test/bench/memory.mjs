// Resident memory of the daemon beside that of a bare client that hears the same messages.
import { mkdirSync } from "node:fs";
import { join } from "node:path";
import {
  AS_DEPLOYED,
  deployedEnvironment,
  embeddedAt,
  freePort,
  isReady,
  NotMeasured,
  receivedCount,
  residentMb,
  sleep,
  startBareClient,
  startChatter,
  startDaemon,
  startMosquitto,
  until,
  withCleanUp,
} from "./processes.mjs";
import { EXAMPLE_ALL, writeExampleSite } from "./site-file.mjs";

const PER_SECOND = 20;
const RECEIVED_SHARE_MIN = 0.95;
const MS_PER_MINUTE = 60_000;
const AIM_OVER_BARE_MB = 40;

const CASES = [
  { key: "bare", name: "bare client" },
  { key: "bareDeployed", name: "bare client, environment as deployed" },
  { key: "daemon", name: "daemon" },
  { key: "deployed", name: "daemon as deployed" },
  { key: "withBroker", name: "daemon with the embedded broker" },
];

export async function measureMemory({ minutes }, { say, attempt }) {
  say(`memory: ${minutes} minutes`);
  const result = await attempt("memory", () => withCleanUp((scope) => run(scope, minutes)));
  const figures = result === null ? [] : CASES.map(({ key }) => result[key]);
  return {
    title: `Resident memory after ${minutes} min at ${PER_SECOND} messages/s [MB]`,
    columns: ["at start", "at end", "over bare"],
    rows: figures.map(({ startMb, endMb }, index) => ({
      name: CASES[index].name,
      cells: [startMb, endMb, endMb - result.bare.endMb].map((mb) => mb.toFixed(1)),
    })),
    notes: [
      `aim: daemon as deployed at most the bare client + ${AIM_OVER_BARE_MB} MB`,
      AS_DEPLOYED,
    ],
    result,
  };
}

async function run(scope, minutes) {
  const mosquitto = await startMosquitto(scope);
  const environment = deployedEnvironment();
  const topics = EXAMPLE_ALL.map(([topic]) => topic);
  const bare = startBareClient(scope, mosquitto, topics);
  const bareDeployed = startBareClient(scope, mosquitto, topics, environment);
  const daemon = await startOne(scope, { broker: mosquitto, at: mosquitto, folder: scope.folder });
  // Of a broker of its own, for both have the same client ids.
  const second = await startMosquitto(scope);
  const own = folderIn(scope, "deployed");
  const deployed = await startOne(scope, { broker: second, at: second, folder: own, environment });
  const embedded = embeddedAt(await freePort());
  const withBroker = await startOne(scope, {
    broker: { embedded: { port: Number(new URL(embedded.url).port) } },
    at: embedded,
    folder: folderIn(scope, "embedded"),
  });
  const children = [bare, bareDeployed, daemon.child, deployed.child, withBroker.child];
  const start = children.map(({ pid }) => residentMb(pid));

  const received = await receivedCount(daemon.webPort);
  const startMs = performance.now();
  await sleep(minutes * MS_PER_MINUTE);
  const seconds = (performance.now() - startMs) / 1000;
  const perSecond = ((await receivedCount(daemon.webPort)) - received) / seconds;
  if (perSecond < RECEIVED_SHARE_MIN * PER_SECOND) {
    throw new NotMeasured(`only ${perSecond.toFixed(1)} messages/s arrived`);
  }
  const end = children.map((child) => {
    if (child.hasEnded) throw new NotMeasured(`a process ended: ${child.said}`);
    return residentMb(child.pid);
  });
  const figures = CASES.map(({ key }, index) => [
    key,
    { startMb: start[index], endMb: end[index] },
  ]);
  return { minutes, receivedPerSecond: perSecond, ...Object.fromEntries(figures) };
}

function folderIn({ folder }, name) {
  const path = join(folder, name);
  mkdirSync(path);
  return path;
}

/** A daemon and its shed, in a folder of their own. */
async function startOne(scope, { broker, at, folder, environment = {} }) {
  const webPort = await freePort();
  const file = writeExampleSite(folder, { broker, webPort });
  const child = startDaemon(scope, file, environment);
  startChatter(scope, at, { messages: EXAMPLE_ALL, perSecond: PER_SECOND });
  await until(() => isReady(webPort), { child, what: "ready" });
  return { child, webPort };
}
