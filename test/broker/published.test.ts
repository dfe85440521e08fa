/** Our own topics over a real Mosquitto: what a real run publishes, and what it takes in. */
import { afterAll, afterEach, beforeAll, describe, expect, test } from "vitest";
import { step } from "../../service/control/step.ts";
import { OUT_SCHEMAS } from "../../service/published-schemas.ts";
import { appliance } from "../control/guidance/given.ts";
import { startMosquitto } from "../support/mosquitto.ts";
import type { Mosquitto } from "../support/mosquitto.ts";
import { runDaemon } from "../support/running-daemon.ts";
import type { RunningDaemon } from "../support/running-daemon.ts";
import { testBroker, testSite } from "../support/site.ts";
import { createStranger } from "../support/stranger.ts";
import type { Seen, Stranger } from "../support/stranger.ts";
import { until } from "../support/until.ts";

const BASE = "bywash/malga";
const CLEAR = '{"request":"clear"}';

let broker: Mosquitto;
let stranger: Stranger;
let running: RunningDaemon | null = null;

beforeAll(async () => {
  broker = await startMosquitto();
});
afterAll(() => broker.stop());
afterEach(async () => {
  await running?.daemon.stop();
  running = null;
  await stranger.end();
});

function schemaOf(topic: string) {
  const name = topic.slice(BASE.length + 1).replace(/^load\/.*$/u, "load/<id>");
  const found = Object.entries(OUT_SCHEMAS).find(([key]) => key === name);
  if (found === undefined) throw new Error(`no schema for ${topic}`);
  return found;
}

const HEALTHY = [
  ["shed/battery", '{"soc":99,"v":54.1,"i":60}'],
  ["shed/inverter", '{"ac":{"w":400}}'],
  ["shed/roof/w", "4200"],
  ["shed/tank/c", "40"],
  ["shed/heater", '{"stage":0}'],
  ["shed/contactor", "0"],
] as const;

async function tellHealthy(): Promise<void> {
  const receivedBefore = running?.daemon.received() ?? 0;
  for (const [topic, payload] of HEALTHY) await stranger.say(topic, payload);
  await until(() => running?.daemon.received() === receivedBefore + HEALTHY.length);
}

/** The real core; the actuators never answer, so that alarms of loads and panels come too. */
async function runForAWhile(): Promise<void> {
  stranger = await createStranger(broker.url);
  const site = testSite({ broker: testBroker(broker.url), appliances: [appliance()] });
  running = await runDaemon(site, { step });
  const { clock, daemon } = running;
  for (let round = 0; round < 60; round += 1) {
    await tellHealthy();
    clock.advance(20_000);
  }
  clock.advance(600_000);
  await tellHealthy();
  clock.advance(2_000);
  await daemon.stop();
  await stranger.waitFor(({ payload }) => payload.includes("offline"));
  await stranger.settle();
}

const own = (message: Seen): boolean => message.topic.startsWith(`${BASE}/`);

test("everything that a real run publishes fits its schema, and no schema is left out", async () => {
  await runForAWhile();
  const published = stranger.seen.filter(own);
  const counts = new Map<string, number>();
  for (const { topic, payload } of published) {
    const [name, schema] = schemaOf(topic);
    counts.set(name, (counts.get(name) ?? 0) + 1);
    const body: unknown = JSON.parse(payload);
    // Keys that a schema does not know are taken out of what it gives back.
    expect(schema.parse(body)).toEqual(body);
  }
  expect([...counts.keys()].sort()).toEqual(Object.keys(OUT_SCHEMAS).sort());
  for (const { topic, isRetained, qos } of published) {
    const isKept = !topic.endsWith("/event") && !topic.endsWith("/alert");
    expect([topic, isRetained, qos]).toEqual([topic, isKept, 1]);
  }
});

test("an alarm is told once when it comes and once when it is over", async () => {
  await runForAWhile();
  const alerts = stranger.seen
    .filter(({ topic }) => topic === `${BASE}/alert`)
    .map(({ payload }) => OUT_SCHEMAS.alert.parse(JSON.parse(payload)));
  expect(alerts.length).toBeGreaterThan(2);
  const standing = new Map<string, string>();
  for (const { about, id, code, change, sentence } of alerts) {
    const name = `${about} ${id} ${code}`;
    if (change === "raised") {
      expect(standing.has(name)).toBe(false);
      standing.set(name, sentence);
    } else {
      expect(sentence).toBe(`over: ${standing.get(name) ?? "never raised"}`);
      standing.delete(name);
    }
  }
  expect(alerts.map(({ change }) => change)).toContain("cleared");
});

describe("requests", () => {
  async function start(acceptsRequests: boolean): Promise<{ reloads: () => number }> {
    stranger = await createStranger(broker.url);
    let reloads = 0;
    const site = testSite({ broker: { ...testBroker(broker.url), acceptsRequests } });
    running = await runDaemon(site, {
      reload: () => {
        reloads += 1;
        return { isApplied: true, warnings: [], needsRestart: [] };
      },
    });
    return { reloads: () => reloads };
  }

  const counts = () => running?.daemon.state().counters.requestCounts;
  const requestsSeen = (): unknown[] =>
    (running?.core.observations ?? []).flatMap(({ loads, panels }) =>
      [...loads, ...panels].map(({ request }) => request).filter((request) => request !== "none"),
    );

  test("are taken where the settings accept them, each for one tick", async () => {
    const { reloads } = await start(true);
    await stranger.say(`${BASE}/load/water-heater/request`, CLEAR);
    await stranger.say(`${BASE}/panel/surplus/request`, CLEAR);
    await stranger.say(`${BASE}/load/spring-pump/request`, '{"request":"run","forS":60}');
    await until(() => counts()?.accepted === 3);
    running?.tick();
    running?.tick();
    expect(requestsSeen().toSorted()).toEqual(["clear", "clear", "run"]);
    const times = running?.core.observations.flatMap(({ loads }) =>
      loads.filter(({ request }) => request === "run").map(({ requestForMs }) => requestForMs),
    );
    expect(times).toEqual([60_000]);
    await stranger.say(`${BASE}/settings/reload`, '{"request":"reload"}');
    await until(() => reloads() === 1);
    expect(counts()).toEqual({ accepted: 4, retained: 0, malformed: 0 });
  });

  test("are ignored and counted when malformed", async () => {
    const { reloads } = await start(true);
    const wrong = [
      "",
      "clear",
      "{",
      '{"request":"walk"}',
      '{"request":"run","forS":0}',
      '{"request":"clear","and":1}',
      "[]",
    ];
    for (const payload of wrong) {
      await stranger.say(`${BASE}/load/water-heater/request`, payload);
    }
    await stranger.say(`${BASE}/load/water-heater/request`, CLEAR + " ".repeat(1_100));
    await stranger.say(`${BASE}/load/unknown/request`, CLEAR);
    await stranger.say(`${BASE}/settings/reload`, CLEAR);
    await stranger.say(`${BASE}/settings/reload`, "");
    await until(() => counts()?.malformed === wrong.length + 3);
    running?.tick();
    expect(requestsSeen()).toEqual([]);
    expect(reloads()).toBe(0);
    expect(counts()?.accepted).toBe(0);
  });

  test("are ignored and counted when the broker has kept them", async () => {
    const before = await createStranger(broker.url, { topics: [] });
    await before.say(`${BASE}/load/water-heater/request`, CLEAR, true);
    await start(true);
    await until(() => counts()?.retained === 1);
    running?.tick();
    expect(requestsSeen()).toEqual([]);
    await before.say(`${BASE}/load/water-heater/request`, "", true);
    await before.end();
  });

  test("are not even listened to where the settings refuse them", async () => {
    const { reloads } = await start(false);
    await stranger.say(`${BASE}/load/water-heater/request`, CLEAR);
    await stranger.say(`${BASE}/settings/reload`, '{"request":"reload"}');
    // One connection's messages keep their order: this one came after those.
    await stranger.say("shed/battery", '{"soc":95,"v":54,"i":2}');
    await running?.tickUntil(({ battery }) => battery.socFraction.quality === "fresh");
    expect(requestsSeen()).toEqual([]);
    expect(reloads()).toBe(0);
    expect(counts()).toEqual({ accepted: 0, retained: 0, malformed: 0 });
  });
});
