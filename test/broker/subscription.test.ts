/** A subscription that the broker refuses: said once, asked for again, and got over. */
import { pbkdf2Sync } from "node:crypto";
import { existsSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { describe, expect, test } from "vitest";
import { createSubscription } from "../../service/broker/subscription.ts";
import { freePort } from "../support/free-port.ts";
import { createMemoryLog } from "../support/log.ts";
import { createManualClock } from "../support/manual-clock.ts";
import { startWithFiles } from "../support/mosquitto.ts";
import { runDaemon } from "../support/running-daemon.ts";
import { testBroker, testSite } from "../support/site.ts";
import { commandsOf, createStranger } from "../support/stranger.ts";
import { until } from "../support/until.ts";

const ALL_OFF = ['shed/heater/set {"stage":0}', "shed/pump/set 0", "shed/contactor/set 0"];

describe("by itself", () => {
  function setUp(topics: string[]) {
    const clock = createManualClock();
    const { log, lines } = createMemoryLog();
    const asked: string[] = [];
    const broker = { refuses: ["b"] };
    const subscription = createSubscription({ topics, clock, log });
    const connection = {
      subscribe(wanted: readonly string[]): Promise<readonly string[]> {
        asked.push(wanted.join(" "));
        return Promise.resolve(wanted.filter((topic) => broker.refuses.includes(topic)));
      },
    };
    const wait = async (ms: number): Promise<void> => {
      clock.advance(ms);
      await Promise.resolve();
      await Promise.resolve();
    };
    return { subscription, connection, broker, asked, lines, wait };
  }

  test("what was refused, and nothing else, is asked for after 1, 2, 4 … 60 s", async () => {
    const { subscription, connection, asked, lines, wait } = setUp(["a", "b", "c"]);
    subscription.up(connection);
    await wait(0);
    expect(subscription.trouble()).toBe("the broker refuses to let us listen to b");
    const times: number[] = [];
    for (let second = 1; second <= 250; second += 1) {
      const before = asked.length;
      await wait(1_000);
      if (asked.length > before) times.push(second);
    }
    expect(times).toEqual([1, 3, 7, 15, 31, 63, 123, 183, 243]);
    expect(new Set(asked.slice(1))).toEqual(new Set(["b"]));
    expect(lines).toEqual(["error the broker refuses a subscription; asked again later"]);
  });

  test("when it is granted that is said, and the asking ends", async () => {
    const { subscription, connection, broker, asked, lines, wait } = setUp(["a", "b"]);
    subscription.up(connection);
    await wait(0);
    broker.refuses = [];
    await wait(1_000);
    expect(subscription.trouble()).toBeNull();
    await wait(600_000);
    expect(asked).toEqual(["a b", "b"]);
    expect(lines.at(-1)).toBe("info the broker now accepts the whole subscription");
  });

  test("a connection that is gone asks no more; the next one asks for all", async () => {
    const { subscription, connection, asked, wait } = setUp(["a", "b"]);
    subscription.up(connection);
    await wait(0);
    subscription.down();
    await wait(600_000);
    expect(asked).toEqual(["a b"]);
    subscription.up(connection);
    await wait(0);
    expect(asked).toEqual(["a b", "a b"]);
  });

  test("many refused topics are counted, not listed", async () => {
    const topics = ["1", "2", "3", "4", "5", "6", "7"];
    const { subscription, connection, broker, wait } = setUp(topics);
    broker.refuses = topics;
    subscription.up(connection);
    await wait(0);
    expect(subscription.trouble()).toContain("1, 2, 3, 4, 5 and 2 more");
  });
});

/** Mosquitto's plug-in for access by subscription; its access file knows none. */
function plugin(): string {
  const name = "mosquitto_dynamic_security.so";
  if (process.env["MOSQUITTO"] === "container") return `/usr/lib/${name}`;
  const folders = ["/usr/lib", "/usr/local/lib"].flatMap((folder) => [
    folder,
    ...readdirSync(folder).map((inner) => join(folder, inner)),
  ]);
  const found = folders.map((folder) => join(folder, name)).find((path) => existsSync(path));
  if (found === undefined) throw new Error(`${name} comes with Mosquitto, and is not there`);
  return found;
}

const ROLE = { rolename: "bywash", acltype: "subscribeLiteral", topic: "shed/battery" };

/** Two users: ours, who may not listen to one topic, and one who may change that. */
function accessFile(): string {
  const salt = Buffer.from("salt of test");
  const password = pbkdf2Sync("pasture", salt, 101, 64, "sha512").toString("base64");
  const user = (name: string) => ({
    username: name,
    password,
    salt: salt.toString("base64"),
    iterations: 101,
    roles: [{ rolename: name }],
  });
  const { rolename, acltype, topic } = ROLE;
  const all = ["#", "$CONTROL/#"].map((filter) => ({
    acltype: "publishClientSend",
    topic: filter,
    priority: 0,
    allow: true,
  }));
  return JSON.stringify({
    defaultACLAccess: {
      publishClientSend: true,
      publishClientReceive: true,
      subscribe: true,
      unsubscribe: true,
    },
    clients: [user("bywash"), user("keeper")],
    roles: [
      { rolename, acls: [{ acltype, topic, priority: 0, allow: false }] },
      { rolename: "keeper", acls: all },
    ],
  });
}

test.each([4, 5] as const)("by Mosquitto, protocol level %d", async (protocolVersion) => {
  const port = await freePort();
  const conf = [
    "per_listener_settings false",
    `listener ${port} 127.0.0.1`,
    "allow_anonymous true",
    `plugin ${plugin()}`,
    "plugin_opt_config_file /mosquitto/config/access.json",
    "log_dest stderr",
    "",
  ];
  const files = { "mosquitto.conf": conf.join("\n"), "access.json": accessFile() };
  const broker = await startWithFiles({ port, files });
  const stranger = await createStranger(broker.url, { username: "keeper", password: "pasture" });
  const folder = mkdtempSync(join(tmpdir(), "bywash-subscription-"));
  const passwordFile = join(folder, "password");
  writeFileSync(passwordFile, "pasture", { mode: 0o600 });
  const own = { ...testBroker(broker.url, protocolVersion), username: "bywash", passwordFile };
  const { daemon, core, tick, tickUntil, logLines } = await runDaemon(testSite({ broker: own }));
  await until(() => daemon.state().brokerTroubles.length > 0);
  expect(daemon.state().brokerTroubles).toEqual([
    "the broker refuses to let us listen to shed/battery",
  ]);
  await stranger.say("shed/battery", '{"soc":95,"v":54,"i":2}');
  await stranger.say("shed/roof/w", "4200");
  await until(() => daemon.received() > 0);
  tick();
  expect(core.observations.at(-1)?.battery.socFraction.quality).toBe("waiting");
  expect(commandsOf(stranger.seen)).toEqual(ALL_OFF);
  expect(logLines.filter((line) => line.includes("refuses a subscription"))).toHaveLength(1);
  const mend = { commands: [{ command: "removeRoleACL", ...ROLE }] };
  await stranger.say("$CONTROL/dynamic-security/v1", JSON.stringify(mend));
  await until(() => daemon.state().brokerTroubles.length === 0);
  await until(() => daemon.state().isBrokerConnected && daemon.isListening());
  await stranger.say("shed/battery", '{"soc":95,"v":54,"i":2}');
  await tickUntil(({ battery }) => battery.socFraction.quality === "fresh");
  await daemon.stop();
  await stranger.end();
  await broker.stop();
  rmSync(folder, { recursive: true });
});
