/** Whatever the bus does, the log stays small: bad payloads in floods, and a link that flaps. */
import { afterAll, beforeAll, expect, test } from "vitest";
import { createLimitedLog } from "../../service/log-limit.ts";
import type { LogLine } from "../../service/log-limit.ts";
import { layCable } from "../support/cable.ts";
import type { Cable } from "../support/cable.ts";
import { createManualClock } from "../support/manual-clock.ts";
import { startMosquitto } from "../support/mosquitto.ts";
import type { Mosquitto } from "../support/mosquitto.ts";
import { runDaemon } from "../support/running-daemon.ts";
import { testBroker, testSite } from "../support/site.ts";
import { createStranger } from "../support/stranger.ts";
import { until } from "../support/until.ts";

const FLOODS = 3;
const FLOOD_MESSAGES = 1_000;
const BREAKS = 5;
/** Telemetry and switching lines in a minute, and two a break for each of the two connections. */
const LINES_MAX = 60;

let broker: Mosquitto;
let cable: Cable;
beforeAll(async () => {
  broker = await startMosquitto();
  cable = await layCable(broker.port);
});
afterAll(async () => {
  await cable.close();
  await broker.stop();
});

function openLog() {
  const lines: LogLine[] = [];
  // However long a busy machine takes for all of it: to the log it is one minute.
  const clock = createManualClock();
  const limited = createLimitedLog({ clock, write: (line) => lines.push(line) });
  return { lines, limited, log: { ...limited.part("service"), part: limited.part } };
}

test("a flood of bad payloads and a flapping link leave a bounded number of lines", async () => {
  const { lines, limited, log } = openLog();
  const running = await runDaemon(testSite({ broker: testBroker(cable.url) }), { log });
  const shed = await createStranger(broker.url, { topics: [] });

  for (let flood = 0; flood < FLOODS; flood += 1) {
    const receivedBefore = running.daemon.received();
    for (let count = 0; count < FLOOD_MESSAGES; count += 1) {
      shed.client.publish("shed/battery", `{"soc":"${String(count)}`, { qos: 0 });
    }
    await until(() => running.daemon.received() >= receivedBefore + FLOOD_MESSAGES);
    running.tick();
  }
  const { ignoredCounts } = running.daemon.state().counters;
  // Three signals read that topic.
  expect(ignoredCounts["not-json"]).toBe(3 * FLOODS * FLOOD_MESSAGES);

  for (let count = 1; count <= BREAKS; count += 1) {
    cable.cut();
    await until(() => !running.daemon.state().isBrokerConnected);
    running.tick();
    cable.mend();
    await until(() => running.daemon.state().isBrokerConnected);
    running.tick();
  }
  expect(running.daemon.state().counters.brokerLossCount).toBeGreaterThanOrEqual(BREAKS);

  await shed.end();
  await running.daemon.stop();
  limited.close();
  const parts = new Set(lines.map(({ part }) => part));
  expect(parts).toContain("telemetry");
  expect(parts).toContain("broker");
  expect(lines.length).toBeLessThanOrEqual(LINES_MAX);
});
