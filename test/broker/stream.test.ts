/** What changes on the bus reaches whoever reads the stream; a new start is noticed. */
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, expect, test } from "vitest";
import type { SiteSettings } from "../../config/site-settings.ts";
import type { StateView } from "../../service/state-view.ts";
import { openStream } from "../support/event-stream.ts";
import type { OpenStream } from "../support/event-stream.ts";
import { startMosquitto } from "../support/mosquitto.ts";
import type { Mosquitto } from "../support/mosquitto.ts";
import { runDaemon } from "../support/running-daemon.ts";
import type { RunningDaemon } from "../support/running-daemon.ts";
import { testBroker, testSite } from "../support/site.ts";
import { createStranger } from "../support/stranger.ts";
import { until } from "../support/until.ts";

let broker: Mosquitto;
let folder: string;
beforeAll(async () => {
  broker = await startMosquitto();
  folder = mkdtempSync(join(tmpdir(), "bywash-stream-"));
});
afterAll(async () => {
  await broker.stop();
  rmSync(folder, { recursive: true });
});

function site(): SiteSettings {
  const base = testSite({ broker: testBroker(broker.url) });
  return { ...base, web: { ...base.web, tokenFile: join(folder, "token") } };
}

function streamOf({ daemon }: RunningDaemon, lastId?: string): Promise<OpenStream> {
  const address = daemon.webAddress();
  if (address === null) throw new Error("no web server");
  return openStream(`http://${address.host}:${address.port}/api/stream`, lastId);
}

function voltages({ messages }: OpenStream): unknown[] {
  return messages
    .filter(({ event }) => event === "state")
    .map(({ data }) => {
      const { signals } = data as StateView;
      return signals.find(({ signal }) => signal === "battery.voltage")?.value;
    });
}

test("a value on the bus and an event of the core reach the reader; a new run is a gap", async () => {
  const running = await runDaemon(site(), { webPort: 0 });
  const shed = await createStranger(broker.url, { topics: [] });
  const stream = await streamOf(running);
  await shed.say("shed/battery", '{"soc":95,"v":53.25,"i":2}');
  await until(() => voltages(stream).includes(53.25));

  running.core.want({ loadStages: [1, 0], panelsClosed: [true] });
  running.core.tell([{ about: "load", index: 0, change: "started", code: "running" }]);
  running.tick();
  await until(() => stream.messages.some(({ event }) => event === "event"));
  const event = stream.messages.find((one) => one.event === "event");
  expect(event?.data).toMatchObject({ id: "water-heater", change: "started" });

  await running.daemon.stop();
  await stream.ended;

  const again = await runDaemon(site(), { webPort: 0 });
  const resumed = await streamOf(again, event?.id);
  await until(() => resumed.messages.length >= 2);
  expect(resumed.messages.map((one) => one.event).slice(0, 2)).toEqual(["gap", "state"]);
  expect(resumed.messages[0]?.data).toEqual({ reason: "another-run" });
  await again.daemon.stop();
  await shed.end();
});
