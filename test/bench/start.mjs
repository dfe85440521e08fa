// From spawning the program to the first 200 of /readyz, while the shed is already publishing: by
// then something has been decided, and the web server answers.
import {
  AS_DEPLOYED,
  deployedEnvironment,
  embeddedAt,
  freePort,
  isReady,
  startChatter,
  startDaemon,
  startMosquitto,
  until,
  withCleanUp,
} from "./processes.mjs";
import { quantile } from "./report.mjs";
import { EXAMPLE_ALL, writeExampleSite } from "./site-file.mjs";

/** Each of the site's topics about 20 times a second: telemetry is not what is waited for. */
const PER_SECOND = 240;
const ASK_EVERY_MS = 5;
const AIM_MS = 1_000;

const CASES = [
  { name: "with Mosquitto", broker: "mosquitto", isDeployed: false },
  { name: "with Mosquitto, as deployed", broker: "mosquitto", isDeployed: true },
  { name: "with the embedded broker", broker: "embedded", isDeployed: false },
];

export async function measureStart({ starts }, { say, attempt }) {
  const result = [];
  for (const one of CASES) {
    say(`start: ${one.name}, ${starts} times`);
    const startsMs = await attempt(`start, ${one.name}`, () => measureCase(one, starts));
    if (startsMs !== null) result.push({ ...one, startsMs });
  }
  return {
    title: `Spawn → ready, ${starts} starts [ms]`,
    columns: ["min", "median", "max"],
    rows: result.map(({ name, startsMs }) => ({
      name,
      cells: [Math.min(...startsMs), quantile(startsMs, 0.5), Math.max(...startsMs)].map((ms) =>
        ms.toFixed(0),
      ),
    })),
    notes: [`aim: under ${AIM_MS} ms`, AS_DEPLOYED],
    result,
  };
}

function measureCase({ broker, isDeployed }, starts) {
  return withCleanUp(async (scope) => {
    const webPort = await freePort();
    const isEmbedded = broker === "embedded";
    const at = isEmbedded ? embeddedAt(await freePort()) : await startMosquitto(scope);
    const settings = isEmbedded ? { embedded: { port: Number(new URL(at.url).port) } } : at;
    const environment = isDeployed ? deployedEnvironment() : {};
    const file = writeExampleSite(scope.folder, { broker: settings, webPort });
    startChatter(scope, at, { messages: EXAMPLE_ALL, perSecond: PER_SECOND });
    const startsMs = [];
    // The first start warms the disk's cache, and is not counted.
    for (let count = 0; count <= starts; count += 1) {
      const startMs = performance.now();
      const daemon = startDaemon(scope, file, environment);
      await until(() => isReady(webPort), {
        child: daemon,
        what: "ready",
        everyMs: ASK_EVERY_MS,
      });
      if (count > 0) startsMs.push(performance.now() - startMs);
      await daemon.end();
    }
    return startsMs;
  });
}
