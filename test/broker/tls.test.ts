/**
 * TLS, passwords and client certificates against a real Mosquitto: what is wrong is refused, said
 * in words, keeps every load off, and ends by itself when it is mended.
 */
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from "vitest";
import type { BrokerSettings } from "../../config/site-settings.ts";
import { NO_TLS_FILES } from "../../service/broker/access.ts";
import { layCable } from "../support/cable.ts";
import type { Cable } from "../support/cable.ts";
import { makeAuthority, makeCertificate } from "../support/certificates.ts";
import type { Pair } from "../support/certificates.ts";
import { freePort } from "../support/free-port.ts";
import { mosquittoPassword } from "../support/mosquitto-password.ts";
import { startWithFiles } from "../support/mosquitto.ts";
import type { Mosquitto } from "../support/mosquitto.ts";
import { runDaemon } from "../support/running-daemon.ts";
import type { RunningDaemon } from "../support/running-daemon.ts";
import { testBroker, testSite } from "../support/site.ts";
import { commandsOf, createStranger } from "../support/stranger.ts";
import type { Stranger } from "../support/stranger.ts";
import { until } from "../support/until.ts";

const CONFIG = "/mosquitto/config";
const ALL_ON = { loadStages: [2, 1], panelsClosed: [true] };
const ALL_OFF = ['shed/heater/set {"stage":0}', "shed/pump/set 0", "shed/contactor/set 0"];

let authority: Pair;
let otherAuthority: Pair;
let server: Pair;
let expired: Pair;
let elsewhere: Pair;
let client: Pair;
let strangersClient: Pair;

beforeAll(() => {
  authority = makeAuthority("authority of the malga");
  otherAuthority = makeAuthority("authority of somebody else");
  const hosts = ["127.0.0.1", "localhost"];
  server = makeCertificate(authority, { name: "broker", hosts });
  expired = makeCertificate(authority, { name: "broker", hosts, endsInDays: -1 });
  elsewhere = makeCertificate(authority, { name: "broker", hosts: ["hut.example"] });
  client = makeCertificate(authority, { name: "bywash" });
  strangersClient = makeCertificate(otherAuthority, { name: "bywash" });
});

let folder: string;
let broker: Mosquitto | null = null;
let witness: Stranger;
let running: RunningDaemon | null = null;
/** Cut while a broker is started anew: who is to see everything must be there before the service. */
let cable: Cable;
let port: number;
let plainPort: number;

beforeEach(async () => {
  folder = mkdtempSync(join(tmpdir(), "bywash-tls-"));
  port = await freePort();
  plainPort = await freePort();
  cable = await layCable(port);
});
afterEach(async () => {
  await running?.daemon.stop();
  running = null;
  await witness.end();
  await broker?.stop();
  broker = null;
  await cable.close();
  rmSync(folder, { recursive: true });
});
afterAll(() => {
  expect(broker).toBeNull();
});

interface BrokerSide {
  readonly pair?: Pair;
  readonly lines?: readonly string[];
  readonly password?: string;
}

/** One listener with TLS, and an open one for the witness. */
async function start({ pair = server, lines = [], password }: BrokerSide = {}): Promise<void> {
  const login =
    password === undefined
      ? ["allow_anonymous true"]
      : ["allow_anonymous false", `password_file ${CONFIG}/passwords`];
  const conf = [
    "per_listener_settings true",
    // The other one first: that the last listens is what is waited for.
    `listener ${plainPort} 127.0.0.1`,
    "allow_anonymous true",
    `listener ${port} 127.0.0.1`,
    `certfile ${CONFIG}/server.pem`,
    `keyfile ${CONFIG}/server.key`,
    "tls_version tlsv1.2",
    ...login,
    ...lines,
    "log_dest stderr",
    "",
  ];
  broker = await startWithFiles({
    port,
    files: {
      "mosquitto.conf": conf.join("\n"),
      "server.pem": pair.certificate,
      "server.key": pair.key,
      "authority.pem": authority.certificate,
      passwords: password === undefined ? "" : mosquittoPassword("bywash", password),
    },
  });
  witness = await createStranger(`mqtt://127.0.0.1:${plainPort}`);
}

async function restart(side: BrokerSide): Promise<void> {
  cable.cut();
  await witness.end();
  await broker?.stop();
  await start(side);
  cable.mend();
}

function file(name: string, text: string): string {
  const path = join(folder, name);
  writeFileSync(path, text, { mode: 0o600 });
  return path;
}

function settings(own: Partial<BrokerSettings>): BrokerSettings {
  return { ...testBroker(cable.url.replace("mqtt:", "mqtts:")), ...own };
}

function trusting(pair: Pair, own: Partial<BrokerSettings["tls"]> = {}): BrokerSettings["tls"] {
  return { ...NO_TLS_FILES, caFile: file("ca.pem", pair.certificate), ...own };
}

async function run(own: BrokerSettings, isLetIn = true): Promise<RunningDaemon> {
  running = await runDaemon(testSite({ broker: own }), {}, isLetIn);
  running.core.want(ALL_ON);
  return running;
}

/** Refused, told in `words`, nothing on; then up once `mend` has been called. */
async function refusedUntilMended(
  own: BrokerSettings,
  words: string,
  mend: () => Promise<void> | void,
): Promise<void> {
  const { daemon, core, tick, tickUntil, logLines } = await run(own, false);
  const linesOfTrouble = (): number => logLines.filter((line) => line.includes("is down")).length;
  // One for each of the two connections.
  await until(() => linesOfTrouble() === 2);
  expect(daemon.state().brokerTroubles).toEqual([expect.stringContaining(words)]);
  tick();
  expect(core.observations.at(-1)?.isBrokerConnected).toBe(false);
  await witness.settle();
  expect(commandsOf(witness.seen)).toEqual([]);
  expect(linesOfTrouble()).toBe(2);
  await mend();
  await tickUntil(({ isBrokerConnected }) => isBrokerConnected);
  await witness.waitFor(({ topic, payload }) => topic === "shed/pump/set" && payload === "1");
  expect(daemon.state().brokerTroubles).toEqual([]);
  expect(commandsOf(witness.seen).slice(0, 3)).toEqual(ALL_OFF);
}

describe("lets the service in", () => {
  test.each([4, 5] as const)("by the right authority, protocol level %d", async (level) => {
    await start();
    const own = settings({ tls: trusting(authority), protocolVersion: level });
    const { tickUntil } = await run(own);
    await tickUntil(({ isBrokerConnected }) => isBrokerConnected);
    await witness.waitFor(({ topic, payload }) => topic === "shed/pump/set" && payload === "1");
    expect(commandsOf(witness.seen).slice(0, 3)).toEqual(ALL_OFF);
  });

  test("by an authority of the system, where the settings name none", async () => {
    await start();
    process.env["SSL_CERT_FILE"] = file("system.pem", authority.certificate);
    try {
      const { tickUntil } = await run(settings({}));
      await tickUntil(({ isBrokerConnected }) => isBrokerConnected);
    } finally {
      delete process.env["SSL_CERT_FILE"];
    }
  });

  test("at a broker whose certificate bears the name that the settings give", async () => {
    await start({ pair: elsewhere });
    const tls = trusting(authority, { serverName: "hut.example" });
    const { tickUntil } = await run(settings({ tls }));
    await tickUntil(({ isBrokerConnected }) => isBrokerConnected);
  });

  test("by a password in the environment", async () => {
    await start({ password: "from-the-environment" });
    process.env["BYWASH_BROKER_PASSWORD"] = "from-the-environment";
    try {
      const { tickUntil } = await run(settings({ username: "bywash", tls: trusting(authority) }));
      await tickUntil(({ isBrokerConnected }) => isBrokerConnected);
    } finally {
      delete process.env["BYWASH_BROKER_PASSWORD"];
    }
  });

  test("by password and client certificate together, and warns of a secret open to all", async () => {
    const lines = ["require_certificate true", `cafile ${CONFIG}/authority.pem`];
    await start({ lines, password: "pasture" });
    const keyFile = file("own.key", client.key);
    const open = join(folder, "password");
    writeFileSync(open, "pasture\n", { mode: 0o644 });
    const certificateFile = file("own.pem", client.certificate);
    const own = settings({
      username: "bywash",
      passwordFile: open,
      tls: trusting(authority, { certificateFile, keyFile }),
    });
    const { tickUntil, logLines } = await run(own);
    await tickUntil(({ isBrokerConnected }) => isBrokerConnected);
    const warnings = logLines.filter((line) => line.includes("can read this secret"));
    expect(warnings).toHaveLength(1);
  });
});

describe("keeps every load off until mended", () => {
  test("an authority that did not sign", async () => {
    await start();
    const tls = trusting(otherAuthority);
    await refusedUntilMended(settings({ tls }), "signed by nobody we trust", () => {
      file("ca.pem", authority.certificate);
    });
  });

  test("no authority named, and none of the system's", async () => {
    await start();
    process.env["SSL_CERT_FILE"] = file("system.pem", otherAuthority.certificate);
    try {
      await refusedUntilMended(settings({}), "signed by nobody we trust", () => {
        file("system.pem", authority.certificate);
      });
    } finally {
      delete process.env["SSL_CERT_FILE"];
    }
  });

  test("an expired certificate", async () => {
    await start({ pair: expired });
    const own = settings({ tls: trusting(authority) });
    await refusedUntilMended(own, "has expired", () => restart({}));
  });

  test("a certificate for another host", async () => {
    await start({ pair: elsewhere });
    const own = settings({ tls: trusting(authority) });
    await refusedUntilMended(own, "is for another name", () => restart({}));
  });

  test("a client certificate that the broker wants and we have not", async () => {
    await start({ lines: ["require_certificate true", `cafile ${CONFIG}/authority.pem`] });
    const own = settings({ tls: trusting(authority) });
    await refusedUntilMended(own, "wants a certificate of ours", () => restart({}));
  });

  test("a client certificate of another authority", async () => {
    await start({ lines: ["require_certificate true", `cafile ${CONFIG}/authority.pem`] });
    const tls = trusting(authority, {
      certificateFile: file("own.pem", strangersClient.certificate),
      keyFile: file("own.key", strangersClient.key),
    });
    await refusedUntilMended(settings({ tls }), "does not trust our certificate", () => {
      // For a moment the two do not belong together; that, too, is got over.
      file("own.pem", client.certificate);
      file("own.key", client.key);
    });
  });

  test.each([4, 5] as const)("a wrong password, protocol level %d", async (protocolVersion) => {
    await start({ password: "right" });
    const own = settings({
      username: "bywash",
      passwordFile: file("password", "wrong"),
      tls: trusting(authority),
      protocolVersion,
    });
    await refusedUntilMended(own, "user name or password", () => {
      file("password", "right\n");
    });
  });

  test("a broker without TLS on that port", async () => {
    await start();
    const own = {
      ...settings({ tls: trusting(authority) }),
      url: `mqtts://127.0.0.1:${plainPort}`,
    };
    const { daemon, tick, core } = await run(own, false);
    await until(() => daemon.state().brokerTroubles.length > 0);
    tick();
    expect(daemon.state().brokerTroubles[0]).toMatch(/does not speak TLS|cut|closed/u);
    expect(core.observations.at(-1)?.isBrokerConnected).toBe(false);
  });

  test("a password file that is gone for a while", async () => {
    await start({ password: "right" });
    const passwordFile = file("password", "right");
    const own = settings({ username: "bywash", passwordFile, tls: trusting(authority) });
    const { daemon, tickUntil } = await run(own);
    await tickUntil(({ isBrokerConnected }) => isBrokerConnected);
    rmSync(passwordFile);
    await restart({ password: "right" });
    await until(() => daemon.state().brokerTroubles.some((text) => text.includes("unreadable")));
    file("password", "right");
    await tickUntil(({ isBrokerConnected }) => isBrokerConnected);
    await witness.waitFor(({ topic }) => topic === "shed/pump/set");
  });
});
