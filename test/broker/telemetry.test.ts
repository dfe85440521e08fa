/** Telemetry and publishing over real brokers: Mosquitto, and the embedded one. */
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import { createEmbeddedBroker } from "../../service/broker/embedded.ts";
import { UserError } from "../../service/errors.ts";
import { freePort } from "../support/free-port.ts";
import { silentLog } from "../support/log.ts";
import { startMosquitto } from "../support/mosquitto.ts";
import { runDaemon } from "../support/running-daemon.ts";
import { OPEN_EMBEDDED, testBroker, testSite } from "../support/site.ts";
import { createStranger } from "../support/stranger.ts";

interface AnyBroker {
  readonly url: string;
  readonly stop: () => Promise<void>;
}

const BROKERS: Readonly<Record<string, () => Promise<AnyBroker>>> = {
  mosquitto: startMosquitto,
  embedded: async () => {
    const broker = await createEmbeddedBroker(OPEN_EMBEDDED, silentLog);
    return { url: broker.url, stop: broker.close };
  },
};

describe.each(["mosquitto", "embedded"] as const)("%s", (name) => {
  let broker: AnyBroker;
  beforeAll(async () => {
    const start = BROKERS[name];
    if (start === undefined) throw new Error(name);
    broker = await start();
  });
  afterAll(() => broker.stop());

  test("kept telemetry is not fresh; live telemetry is, also if its publisher retains it", async () => {
    const shed = await createStranger(broker.url, { topics: [], protocolVersion: 4 });
    await shed.say("shed/battery", '{"soc":95,"v":54,"i":2}', true);
    const running = await runDaemon(testSite({ broker: testBroker(broker.url, 4) }));
    await running.tickUntil(({ battery }) => battery.socFraction.quality !== "waiting");
    const kept = running.core.observations.at(-1)?.battery.socFraction;
    expect(kept?.quality).toBe("retained");
    await shed.say("shed/battery", '{"soc":94,"v":54,"i":2}', true);
    await running.tickUntil(({ battery }) => battery.socFraction.quality === "fresh");
    expect(running.core.observations.at(-1)?.battery.socFraction.value).toBeCloseTo(0.94, 9);
    expect(running.daemon.received()).toBe(2);
    await running.daemon.stop();
    await shed.say("shed/battery", "", true);
    await shed.end();
  });

  test("status, state and verdicts are retained; status is offline after a good end", async () => {
    const running = await runDaemon(testSite({ broker: testBroker(broker.url, 4) }));
    running.core.want({ loadStages: [1, 0], panelsClosed: [true] });
    running.tick();
    const witness = await createStranger(broker.url, { protocolVersion: 4, topics: ["bywash/#"] });
    for (const last of ["state", "load/water-heater"]) {
      await witness.waitFor(
        ({ topic, payload }) => topic === `bywash/malga/${last}` && payload.includes('"stage":1'),
      );
    }
    await witness.end();
    // Whoever comes after all that gets what was kept.
    const late = await createStranger(broker.url, { protocolVersion: 4, topics: ["bywash/#"] });
    const status = await late.waitFor(({ topic }) => topic === "bywash/malga/status");
    expect(status).toMatchObject({
      isRetained: true,
      payload: '{"status":"online","mode":"active","isTimeSimulated":false}',
    });
    const state = await late.waitFor(({ topic }) => topic === "bywash/malga/state");
    expect(state.isRetained).toBe(true);
    const load = await late.waitFor(({ topic }) => topic === "bywash/malga/load/water-heater");
    expect(JSON.parse(load.payload)).toMatchObject({
      mode: "active",
      site: "malga",
      id: "water-heater",
      code: "running",
      stage: 1,
      figures: { measuredFraction: 0.03, limitFraction: 0.02 },
    });
    await running.daemon.stop();
    await late.waitFor(
      ({ payload }) => payload === '{"status":"offline","mode":"active","isTimeSimulated":false}',
    );
    await late.end();
  });
});

test("a broker out of reach at the start is waited for", async () => {
  const port = await freePort();
  const site = testSite({ broker: testBroker(`mqtt://127.0.0.1:${port}`) });
  const running = await runDaemon(site, {}, false);
  running.core.want({ loadStages: [1, 0], panelsClosed: [true] });
  running.tick();
  expect(running.core.observations.at(-1)?.isBrokerConnected).toBe(false);
  expect(running.daemon.state()).toMatchObject({
    isBrokerConnected: false,
    counters: { commandCount: 0 },
  });
  const broker = await startMosquitto(port);
  await running.tickUntil(({ isBrokerConnected }) => isBrokerConnected);
  await running.daemon.stop();
  await broker.stop();
});

test("without a broker of its own the site gets the embedded one", async () => {
  const running = await runDaemon(testSite());
  const url = running.daemon.brokerUrl() ?? "";
  const stranger = await createStranger(url, { protocolVersion: 4 });
  await stranger.say("shed/battery", '{"soc":95,"v":54,"i":2}');
  await running.tickUntil(({ battery }) => battery.socFraction.quality === "fresh");
  expect(running.core.observations.at(-1)?.isBrokerConnected).toBe(true);
  await running.daemon.stop();
  await stranger.end();
});

test("the embedded broker listens on this machine alone", async () => {
  const attempt = createEmbeddedBroker({ ...OPEN_EMBEDDED, host: "0.0.0.0" }, silentLog);
  await expect(attempt).rejects.toThrow(UserError);
  const first = await createEmbeddedBroker(OPEN_EMBEDDED, silentLog);
  const second = createEmbeddedBroker({ ...OPEN_EMBEDDED, port: first.port }, silentLog);
  await expect(second).rejects.toThrow("embedded-broker-port");
  await first.close();
});
