/** The broker's configuration as shipped in deploy/, in a real Mosquitto, with three users. */
import { readFileSync } from "node:fs";
import { connectAsync } from "mqtt";
import type { MqttClient } from "mqtt";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import { mosquittoPassword } from "../support/mosquitto-password.ts";
import { freePort, startWithFiles } from "../support/mosquitto.ts";
import type { Mosquitto } from "../support/mosquitto.ts";

const USERS = ["bywash", "devices", "onlooker"] as const;
type User = (typeof USERS)[number];

let broker: Mosquitto;
const clients: MqttClient[] = [];

beforeAll(async () => {
  const port = await freePort();
  const shipped = readFileSync("deploy/mosquitto.conf", "utf8");
  const files = {
    "mosquitto.conf": shipped.replace(/^listener 1883$/mu, `listener ${port} 127.0.0.1`),
    acl: readFileSync("deploy/acl", "utf8"),
    passwords: USERS.map((user) => mosquittoPassword(user, `secret-${user}`)).join(""),
  };
  broker = await startWithFiles({ port, files });
});
afterAll(async () => {
  for (const client of clients) await client.endAsync();
  await broker.stop();
});

interface Listener {
  readonly client: MqttClient;
  readonly heard: string[];
  /** Resolves when this message has come; those before it have come too. */
  until(message: string): Promise<void>;
}

async function listen(user: User): Promise<Listener> {
  const client = await connectAsync(broker.url, {
    username: user,
    password: `secret-${user}`,
    protocolVersion: 4,
  });
  clients.push(client);
  const heard: string[] = [];
  let look = (): void => undefined;
  client.on("message", (topic, payload) => {
    heard.push(`${topic} ${payload.toString()}`);
    look();
  });
  await client.subscribeAsync("#", { qos: 1 });
  const until = (message: string): Promise<void> =>
    new Promise((resolve) => {
      look = () => {
        if (heard.includes(message)) resolve();
      };
      look();
    });
  return { client, heard, until };
}

describe("the shipped broker configuration", () => {
  test("refuses a stranger, and a wrong password", async () => {
    const options = { protocolVersion: 4, reconnectPeriod: 0 } as const;
    await expect(connectAsync(broker.url, options)).rejects.toThrow(/not authorized/iu);
    const guess = { ...options, username: "bywash", password: "secret-devices" };
    await expect(connectAsync(broker.url, guess)).rejects.toThrow(/not authorized/iu);
  });

  test("carries telemetry, commands and state to those who need them", async () => {
    const [daemon, devices, onlooker] = await Promise.all(USERS.map(listen));
    await devices!.client.publishAsync("shed/roof/w", "4200", { qos: 1 });
    await daemon!.until("shed/roof/w 4200");
    await onlooker!.until("shed/roof/w 4200");
    await daemon!.client.publishAsync("shed/pump/set", "on", { qos: 1 });
    await devices!.until("shed/pump/set on");
    await daemon!.client.publishAsync("bywash/malga/status", "online", { qos: 1 });
    await onlooker!.until("bywash/malga/status online");
    expect(devices!.heard).toEqual(["shed/pump/set on"]);
  });

  test("lets nobody but the daemon switch", async () => {
    const [daemon, devices, onlooker] = await Promise.all(USERS.map(listen));
    // One client's messages keep their order: what comes after shows that the first was dropped.
    await onlooker!.client.publishAsync("shed/pump/set", "on", { qos: 1 });
    await onlooker!.client.publishAsync("bywash/malga/status", "offline", { qos: 1 });
    await devices!.client.publishAsync("shed/pump/set", "on", { qos: 1 });
    await devices!.client.publishAsync("bywash/malga/load/pump/request", "run", { qos: 1 });
    await devices!.client.publishAsync("shed/pump", "after", { qos: 1 });
    await daemon!.until("shed/pump after");
    await daemon!.client.publishAsync("bywash/malga/event", "after", { qos: 1 });
    await daemon!.until("bywash/malga/event after");
    expect(daemon!.heard).toEqual(["shed/pump after", "bywash/malga/event after"]);
  });
});
