/** A test alert over a real Mosquitto: the way of all others, told of itself, and told how far. */
import { cpSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, expect, test } from "vitest";
import { OUT_SCHEMAS } from "../../service/published-schemas.ts";
import { bywash, serveOnFreePorts } from "../support/command-line.ts";
import { freePort } from "../support/free-port.ts";
import { startMosquitto } from "../support/mosquitto.ts";
import type { Mosquitto } from "../support/mosquitto.ts";
import { createStranger } from "../support/stranger.ts";
import type { Stranger } from "../support/stranger.ts";
import { until } from "../support/until.ts";

const TOPIC = "bywash/malga/alert";
let folder = "";
let mosquitto: Mosquitto;
let stranger: Stranger;
let service: Awaited<ReturnType<typeof serveOnFreePorts>>;

beforeAll(async () => {
  mosquitto = await startMosquitto();
  stranger = await createStranger(mosquitto.url);
  folder = mkdtempSync(join(tmpdir(), "bywash-alert-"));
  cpSync("config/examples/malga.yaml", join(folder, "site.yaml"));
  // In place of the built-in broker.
  service = await serveOnFreePorts(folder, "--set", `broker={url: '${mosquitto.url}'}`);
  await stranger.waitFor(({ topic, payload }) => {
    return topic === "bywash/malga/status" && payload.includes("online");
  });
});
afterAll(async () => {
  service.process.kill("SIGTERM");
  await service.ended;
  await stranger.end();
  await mosquitto.stop();
  rmSync(folder, { recursive: true });
});

const alerts = (...args: readonly string[]) =>
  bywash(["alerts", "--test", "--url", service.url, "--token-file", "malga.token", ...args], {
    cwd: folder,
  });
const tests = () =>
  stranger.seen.filter(({ topic, payload }) => topic === TOPIC && payload.includes("alert-test"));

test("one is sent, says that it is a test, and nothing follows it", async () => {
  const { code, stdout, stderr } = await alerts();
  expect({ code, stderr }).toEqual({ code: 0, stderr: "" });
  expect(stdout).toContain("this is a test, nothing is wrong");
  expect(stdout.replace(/\s+/gu, " ")).toContain(`MQTT, ${TOPIC}: the broker has it.`);
  expect(stdout.split("\n").filter((line) => line.length > 80)).toEqual([]);
  await stranger.settle();
  expect(tests()).toHaveLength(1);
  const [{ payload, isRetained, qos }] = tests() as [ReturnType<typeof tests>[number]];
  expect({ isRetained, qos }).toEqual({ isRetained: false, qos: 1 });
  const body: unknown = JSON.parse(payload);
  expect(OUT_SCHEMAS.alert.parse(body)).toEqual(body);
  expect(body).toMatchObject({
    site: "malga",
    about: "site",
    code: "alert-test",
    change: "raised",
    severity: "alarm",
    isTest: true,
  });
});

test("as JSON it is told what was sent, and where", async () => {
  const { code, stdout } = await alerts("--json");
  expect(code).toBe(0);
  expect(JSON.parse(stdout)).toMatchObject({
    ways: [{ kind: "mqtt", topic: TOPIC, isDelivered: true, troubles: [] }],
    alert: { code: "alert-test", isTest: true },
  });
});

test("a wrong token, no service and no flag are told apart", async () => {
  writeFileSync(join(folder, "other.token"), "another-token-another-token");
  const before = tests().length;
  const refused = await alerts("--token-file", "other.token");
  expect(refused).toMatchObject({ code: 2, stdout: "" });
  expect(refused.stderr).toContain("other.token  [token-refused]");
  const none = await alerts("--url", `http://127.0.0.1:${await freePort()}`);
  expect(none).toMatchObject({ code: 1, stdout: "" });
  expect(none.stderr).toContain("no service answers");
  const bare = await bywash(["alerts", "--token-file", "malga.token"], { cwd: folder });
  expect(bare).toMatchObject({ code: 2, stdout: "" });
  expect(bare.stderr).toContain("--test");
  await stranger.settle();
  expect(tests()).toHaveLength(before);
});

test("a broker that is gone is told, with 1, and the alert does not come later", async () => {
  await stranger.end();
  await mosquitto.stop();
  const state = async () =>
    ((await (await fetch(`${service.url}/api/state`)).json()) as { isBrokerConnected: boolean })
      .isBrokerConnected;
  let isConnected = true;
  await until(() => {
    void state().then((now) => (isConnected = now));
    return !isConnected;
  });
  const { code, stdout } = await alerts();
  expect(code).toBe(1);
  expect(stdout.replace(/\s+/gu, " ")).toMatch(/not delivered, and not sent again: \S/u);
  mosquitto = await startMosquitto(mosquitto.port);
  stranger = await createStranger(mosquitto.url);
  await stranger.waitFor(({ topic, payload }) => {
    return topic === "bywash/malga/status" && payload.includes("online");
  });
  await stranger.settle();
  expect(tests()).toEqual([]);
});
