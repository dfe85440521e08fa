// What open dashboards cost the control loop: the way from a tripping message to the OFF, how long a
// tick takes, and the daemon's use of the processor, with none open and with many.
//
// The readers run in a process of their own on the same machine; on few cores their reading takes
// time from the daemon as well, which a person's own phone would not.
import { readFileSync } from "node:fs";
import { measureTrips } from "./latency.mjs";
import { NotMeasured, startScript, until, withCleanUp } from "./processes.mjs";
import { summary } from "./report.mjs";

const READERS = 20;
/** Messages a second: the state that readers are told changes at each look. */
const PER_SECOND = 50;
/** [1] of `--trips` */
const SHARE = 0.25;
/** Of the processor's clock in /proc. common practice on Linux, no source [1/s] */
const TICKS_PER_S = 100;

export async function measureDashboards({ trips: tripsMax }, { say, attempt }) {
  const trips = Math.ceil(SHARE * tripsMax);
  const result = [];
  // Each twice, in turns, so that a machine that slows down does not speak for one of them.
  for (const readers of [0, READERS, 0, READERS]) {
    say(`dashboards: ${readers} open, ${trips} trips`);
    const measured = await attempt(`dashboards, ${readers} open`, () => measure(readers, trips));
    if (measured !== null) result.push({ readers, ...measured });
  }
  return {
    title: "Message that trips an interlock → OFF with dashboards open [ms]",
    columns: ["p50", "p99", "max", "tick", "CPU %"],
    rows: result.map(({ readers, trip, tickMs, cpuFraction }) => ({
      name: `${readers} open, ${trip.count} trips`,
      cells: [trip.p50, trip.p99, trip.max, tickMs, 100 * cpuFraction].map((x) => x.toFixed(2)),
    })),
    notes: [
      `tick: mean of all ticks; ${PER_SECOND} messages/s`,
      ...result
        .filter(({ readers }) => readers > 0)
        .map(({ statesPerReaderS }) => `each reader had ${statesPerReaderS.toFixed(1)} states/s`),
    ],
    result,
  };
}

function measure(readers, trips) {
  return withCleanUp(async (scope) => {
    let begun = null;
    const whenReady = async ({ daemon, webPort }) => {
      const crowd = readers === 0 ? null : await openReaders(scope, readers, webPort);
      begun = { daemon, webPort, crowd, at: performance.now(), ...(await usage(daemon, webPort)) };
    };
    const { tripMs } = await measureTrips(
      scope,
      { broker: "mosquitto", perSecond: PER_SECOND, isDeployed: true, whenReady },
      trips,
    );
    const { daemon, webPort, crowd } = begun;
    const now = await usage(daemon, webPort);
    const seconds = (performance.now() - begun.at) / 1000;
    return {
      trip: summary(tripMs),
      tickMs: (1000 * (now.tickS - begun.tickS)) / (now.ticks - begun.ticks),
      cpuFraction: (now.cpuS - begun.cpuS) / seconds,
      statesPerReaderS: crowd === null ? 0 : (await statesOf(crowd)) / readers / seconds,
    };
  });
}

async function openReaders(scope, readers, webPort) {
  const script = new URL("./stream-readers.mjs", import.meta.url);
  const crowd = startScript(scope, script, { args: [String(webPort), String(readers)] });
  await until(() => /^open$/mu.test(crowd.said), {
    child: crowd,
    what: "every reader has a state",
  });
  return crowd;
}

/** @throws NotMeasured if the readers had nothing: then nothing was measured with them. */
async function statesOf(crowd) {
  process.kill(crowd.pid, "SIGUSR2");
  await until(() => /^states \d+$/mu.test(crowd.said), { child: crowd, what: "readers counted" });
  const states = Number(/^states (\d+)$/mu.exec(crowd.said)[1]);
  if (states === 0) throw new NotMeasured("the readers had no states");
  return states;
}

async function usage(daemon, webPort) {
  const text = await (await fetch(`http://127.0.0.1:${webPort}/metrics`)).text();
  const figure = (name) => {
    const found = new RegExp(`^${name} (\\S+)$`, "mu").exec(text);
    if (found === null) throw new NotMeasured(`${name} is not among the metrics`);
    return Number(found[1]);
  };
  // Fields 14 and 15 after the program's name in brackets: user and system time (proc(5)).
  const stat = readFileSync(`/proc/${daemon.pid}/stat`, "utf8").split(") ")[1].split(" ");
  return {
    ticks: figure("bywash_tick_duration_seconds_count"),
    tickS: figure("bywash_tick_duration_seconds_sum"),
    cpuS: (Number(stat[11]) + Number(stat[12])) / TICKS_PER_S,
  };
}
