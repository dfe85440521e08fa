/** Set-points and warning lamps as a Mosquitto passes them on, under both versions of MQTT. */
import { afterAll, afterEach, beforeAll, describe, expect, test } from "vitest";
import type { ActuatorSettings } from "../../config/site-settings.ts";
import { startMosquitto } from "../support/mosquitto.ts";
import type { Mosquitto } from "../support/mosquitto.ts";
import { runDaemon } from "../support/running-daemon.ts";
import type { RunningDaemon } from "../support/running-daemon.ts";
import { testActuators, testBroker, testControl, testLoad, testSite } from "../support/site.ts";
import { commandsOf, createStranger } from "../support/stranger.ts";
import type { Stranger } from "../support/stranger.ts";
import { until } from "../support/until.ts";

let broker: Mosquitto;
let stranger: Stranger;
let running: RunningDaemon;

beforeAll(async () => {
  broker = await startMosquitto();
});
afterAll(async () => {
  await broker.stop();
});
afterEach(async () => {
  await running.daemon.stop();
  await stranger.end();
});

const TIMING = { repeatMs: 30_000, holdMs: 90_000 } as const;

const ACTUATORS: readonly ActuatorSettings[] = [
  {
    kind: "load",
    index: 0,
    id: "whey-vat",
    topic: "dairy/vat/set",
    payloads: ['{"duty": 0}'],
    setPoint: { payload: ['{"duty": ', "}"], unitW: 30, decimals: 1, minW: 200, stepW: 30 },
    ...TIMING,
  },
  {
    kind: "load",
    index: 1,
    id: "workshop",
    topic: "workshop/set",
    payloads: ["0", "1"],
    setPoint: null,
    ...TIMING,
  },
  {
    kind: "warning",
    index: 1,
    id: "workshop",
    topic: "workshop/lamp/set",
    payloads: ["dark", "light"],
    setPoint: null,
    ...TIMING,
  },
];

async function run(protocolVersion: 4 | 5): Promise<void> {
  stranger = await createStranger(broker.url);
  await stranger.settle();
  stranger.seen.length = 0;
  const panels = testActuators().filter(({ kind }) => kind === "panel");
  running = await runDaemon(
    testSite({
      broker: testBroker(broker.url, protocolVersion),
      actuators: [...ACTUATORS, ...panels],
      control: {
        ...testControl(),
        loads: [
          testLoad({
            id: "whey-vat",
            label: "Whey vat",
            stagesW: [200],
            modulating: { minW: 200, maxW: 3000, stepW: 30, riseWPerS: 20 },
          }),
          testLoad({ id: "workshop", label: "Workshop", stagesW: [300] }),
        ],
      },
      telemetry: [],
    }),
  );
}

function say(powerW: number, isWarned = false): void {
  running.core.want({
    loadStages: [powerW > 0 ? 1 : 0, 1],
    loadPowersW: [powerW, 300],
    loadWarnings: [false, isWarned],
  });
  running.tick();
}

describe.each([5, 4] as const)("protocol level %d", (protocolVersion) => {
  test("set-points follow the decision, expire within the hold, and end in off", async () => {
    await run(protocolVersion);
    say(1500);
    say(1520);
    say(1800);
    say(1800, true);
    say(0);
    await until(() => commandsOf(stranger.seen).length >= 10);
    await stranger.settle();
    expect(commandsOf(stranger.seen)).toEqual([
      'dairy/vat/set {"duty": 0}',
      "workshop/set 0",
      "workshop/lamp/set dark",
      "shed/contactor/set 0",
      'dairy/vat/set {"duty": 50.0}',
      "workshop/set 1",
      'dairy/vat/set {"duty": 60.0}',
      "workshop/lamp/set light",
      'dairy/vat/set {"duty": 0}',
      "workshop/lamp/set dark",
    ]);
    for (const command of stranger.seen.filter(({ topic }) => topic === "dairy/vat/set")) {
      expect(command).toMatchObject({ qos: 1, isRetained: false });
      const isOff = command.payload === '{"duty": 0}';
      if (protocolVersion === 4 || isOff) expect(command.messageExpiryS).toBeNull();
      else expect(command.messageExpiryS).toBeLessThanOrEqual(90);
    }
  });
});

test("a repeat carries the set-point that was too small a change to be sent at once", async () => {
  await run(5);
  say(1500);
  const endMs = running.clock.monotonicMs() + 30_000;
  while (running.clock.monotonicMs() < endMs) say(1520);
  await stranger.waitFor(({ payload }) => payload === '{"duty": 50.6}');
  const ofVat = commandsOf(stranger.seen).filter((line) => line.startsWith("dairy"));
  expect(ofVat).toEqual([
    'dairy/vat/set {"duty": 0}',
    'dairy/vat/set {"duty": 50.0}',
    'dairy/vat/set {"duty": 50.6}',
  ]);
});
