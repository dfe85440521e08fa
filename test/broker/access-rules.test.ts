/** The broker's configuration as shipped in deploy/, in a real Mosquitto, with its four users. */
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { connectAsync } from "mqtt";
import type { MqttClient } from "mqtt";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import { NO_TLS_FILES } from "../../service/broker/access.ts";
import { freePort } from "../support/free-port.ts";
import { mosquittoPassword } from "../support/mosquitto-password.ts";
import { makeAuthority, makeCertificate } from "../support/certificates.ts";
import { startWithFiles } from "../support/mosquitto.ts";
import type { Mosquitto } from "../support/mosquitto.ts";
import { runDaemon } from "../support/running-daemon.ts";
import { testBroker, testSite } from "../support/site.ts";

const USERS = ["bywash", "devices", "onlooker", "keeper"] as const;
type User = (typeof USERS)[number];

let broker: Mosquitto;
const clients: MqttClient[] = [];

interface Shipped {
  readonly name: string;
  readonly scheme: string;
  /** Lines that are comments as shipped, and are taken in. */
  readonly takenIn: RegExp;
}

const SHIPPED: readonly Shipped[] = [
  { name: "mosquitto.conf", scheme: "mqtt", takenIn: /(?!)/u },
  { name: "mosquitto-tls.conf", scheme: "mqtts", takenIn: /(?!)/u },
  { name: "mosquitto-tls.conf", scheme: "mqtts", takenIn: /^# (?=cafile|require_)/gmu },
];

const authority = makeAuthority("authority");
const server = makeCertificate(authority, { name: "broker", hosts: ["127.0.0.1", "shed.example"] });
const own = makeCertificate(authority, { name: "device" });

describe.each(SHIPPED)("deploy/$name, with $takenIn taken in", ({ name, scheme, takenIn }) => {
  let url: string;
  const certificates = { ca: authority.certificate, cert: own.certificate, key: own.key };
  const tls = scheme === "mqtts" ? certificates : {};

  beforeAll(async () => {
    const port = await freePort();
    url = `${scheme}://127.0.0.1:${port}`;
    const shipped = readFileSync(`deploy/${name}`, "utf8");
    const listening = shipped.replace(/^listener \d+$/mu, `listener ${port} 127.0.0.1`);
    expect(listening).not.toBe(shipped);
    const files = {
      "mosquitto.conf": listening.replace(takenIn, ""),
      "server.pem": server.certificate,
      "server.key": server.key,
      "authority.pem": authority.certificate,
      acl: readFileSync("deploy/acl", "utf8"),
      passwords: USERS.map((user) => mosquittoPassword(user, `secret-${user}`)).join(""),
    };
    broker = await startWithFiles({ port, files });
  });
  afterAll(async () => {
    for (const client of clients.splice(0)) await client.endAsync();
    await broker.stop();
  });

  interface Listener {
    readonly client: MqttClient;
    readonly heard: string[];
    /** Resolves when this message has come; those before it have come too. */
    until(message: string): Promise<void>;
  }

  async function listen(user: User): Promise<Listener> {
    const client = await connectAsync(url, {
      ...tls,
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
      const options = { ...tls, protocolVersion: 4, reconnectPeriod: 0 } as const;
      await expect(connectAsync(url, options)).rejects.toThrow(/not authorized/iu);
      const guess = { ...options, username: "bywash", password: "secret-devices" };
      await expect(connectAsync(url, guess)).rejects.toThrow(/not authorized/iu);
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

    test("carries a request of the keeper, and of nobody else", async () => {
      const [daemon, devices, onlooker, keeper] = await Promise.all(USERS.map(listen));
      const topic = "bywash/malga/load/pump/request";
      await onlooker!.client.publishAsync(topic, "onlooker", { qos: 1 });
      await devices!.client.publishAsync(topic, "devices", { qos: 1 });
      await keeper!.client.publishAsync("shed/pump/set", "on", { qos: 1 });
      await keeper!.client.publishAsync(topic, "keeper", { qos: 1 });
      await daemon!.until(`${topic} keeper`);
      expect(daemon!.heard).toEqual([`${topic} keeper`]);
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

    // Last: what it publishes is kept by the broker, and would be heard by those after it.
    test("lets the service in, whose commands reach the devices", async () => {
      const folder = mkdtempSync(join(tmpdir(), "bywash-access-"));
      const file = (fileName: string, text: string): string => {
        const path = join(folder, fileName);
        writeFileSync(path, text, { mode: 0o600 });
        return path;
      };
      const tlsFiles = {
        caFile: file("authority.pem", authority.certificate),
        certificateFile: file("own.pem", own.certificate),
        keyFile: file("own.key", own.key),
        serverName: "shed.example",
      };
      const site = testSite({
        broker: {
          ...testBroker(url),
          username: "bywash",
          passwordFile: file("bywash.password", "secret-bywash"),
          tls: scheme === "mqtts" ? tlsFiles : NO_TLS_FILES,
        },
      });
      const devices = await listen("devices");
      const { daemon, core, tickUntil } = await runDaemon(site);
      core.want({ loadStages: [2, 1], panelsClosed: [true] });
      await tickUntil(({ isBrokerConnected }) => isBrokerConnected);
      await devices.until("shed/pump/set 1");
      await daemon.stop();
      rmSync(folder, { recursive: true });
    });
  });
});
