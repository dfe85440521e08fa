// Resident memory of the daemon beside that of a bare client that hears the same messages.
import { mkdirSync } from "node:fs";
import { join } from "node:path";
import {
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

export async function measureMemory({ minutes }, { say, attempt }) {
  say(`memory: ${minutes} minutes`);
  const result = await attempt("memory", () => withCleanUp((scope) => run(scope, minutes)));
  const figures = result === null ? [] : [result.bare, result.daemon, result.withBroker];
  const names = ["bare client", "daemon", "daemon with the embedded broker"];
  return {
    title: `Resident memory after ${minutes} min at ${PER_SECOND} messages/s [MB]`,
    columns: ["at start", "at end", "over bare"],
    rows: figures.map(({ startMb, endMb }, index) => ({
      name: names[index],
      cells: [startMb, endMb, endMb - result.bare.endMb].map((mb) => mb.toFixed(1)),
    })),
    notes: [`aim: daemon at most the bare client + ${AIM_OVER_BARE_MB} MB`],
    result,
  };
}

async function run(scope, minutes) {
  const mosquitto = await startMosquitto(scope);
  const embedded = embeddedAt(await freePort());
  const topics = EXAMPLE_ALL.map(([topic]) => topic);
  const bare = startBareClient(scope, mosquitto, topics);
  const daemon = await startOne(scope, { broker: mosquitto, at: mosquitto, folder: scope.folder });
  const settings = { embedded: { port: Number(new URL(embedded.url).port) } };
  const folder = join(scope.folder, "embedded");
  mkdirSync(folder);
  const withBroker = await startOne(scope, { broker: settings, at: embedded, folder });
  const start = [bare, daemon.child, withBroker.child].map(({ pid }) => residentMb(pid));

  const received = await receivedCount(daemon.webPort);
  const startMs = performance.now();
  await sleep(minutes * MS_PER_MINUTE);
  const seconds = (performance.now() - startMs) / 1000;
  const perSecond = ((await receivedCount(daemon.webPort)) - received) / seconds;
  if (perSecond < RECEIVED_SHARE_MIN * PER_SECOND) {
    throw new NotMeasured(`only ${perSecond.toFixed(1)} messages/s arrived`);
  }
  const end = [bare, daemon.child, withBroker.child].map((child) => {
    if (child.hasEnded) throw new NotMeasured(`a process ended: ${child.said}`);
    return residentMb(child.pid);
  });
  const [bareFigures, daemonFigures, withBrokerFigures] = start.map((startMb, index) => ({
    startMb,
    endMb: end[index],
  }));
  return {
    minutes,
    receivedPerSecond: perSecond,
    bare: bareFigures,
    daemon: daemonFigures,
    withBroker: withBrokerFigures,
  };
}

/** A daemon and its shed, in a folder of their own. */
async function startOne(scope, { broker, at, folder }) {
  const webPort = await freePort();
  const file = writeExampleSite(folder, { broker, webPort });
  const child = startDaemon(scope, file);
  startChatter(scope, at, { messages: EXAMPLE_ALL, perSecond: PER_SECOND });
  await until(() => isReady(webPort), { child, what: "ready" });
  return { child, webPort };
}
