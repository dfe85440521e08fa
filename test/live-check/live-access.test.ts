/** How somebody who only listens gets in. */
import { expect, test } from "vitest";
import type { EmbeddedBrokerSettings } from "../../config/site-settings.ts";
import { UserError } from "../../service/errors.ts";
import { liveAccess } from "../../service/live-check/live-access.ts";
import { OPEN_EMBEDDED, testBroker } from "../support/site.ts";

const TOPICS = ["shed/battery", "shed/roof/w"];
const user = (name: string, subscribe: readonly string[]) => ({
  name,
  passwordFile: `${name}.password`,
  publish: [],
  subscribe,
});
const embedded = (over: Partial<EmbeddedBrokerSettings>) => ({
  broker: { ...testBroker(null), embedded: { ...OPEN_EMBEDDED, port: 1883, ...over } },
});

test("a broker of somebody else is entered as the service enters it", () => {
  const broker = { ...testBroker("mqtt://shed:1883", 4), username: "bywash", passwordFile: "p" };
  expect(liveAccess({ broker }, TOPICS)).toMatchObject({
    url: "mqtt://shed:1883",
    protocolVersion: 4,
    username: "bywash",
    password: { kind: "file", file: "p" },
  });
});

test("the built-in broker is entered as by everybody else", () => {
  expect(liveAccess(embedded({}), TOPICS)).toMatchObject({
    url: "mqtt://127.0.0.1:1883",
    username: null,
    password: { kind: "none" },
  });
  expect(liveAccess(embedded({ host: "::1" }), TOPICS).url).toBe("mqtt://[::1]:1883");
});

test("with users, by one who may hear all that is read; over TLS if it has that", () => {
  const users = [user("lamp", ["shed/roof/w"]), user("eye", ["shed/#"])];
  const tls = { certificateFile: "shed.pem", keyFile: "shed.key" };
  expect(liveAccess(embedded({ users, tls }), TOPICS)).toMatchObject({
    url: "mqtts://127.0.0.1:1883",
    username: "eye",
    password: { kind: "file", file: "eye.password" },
    tls: { caFile: "shed.pem" },
  });
});

test.each<[Partial<EmbeddedBrokerSettings>, string]>([
  [{ users: [user("lamp", ["shed/roof/w"])] }, "broker.embedded.users"],
  [{ port: 0 }, "broker.embedded.port"],
])("where nobody can get in, the key is named: %#", (over, key) => {
  const enter = () => liveAccess(embedded(over), TOPICS);
  expect(enter).toThrow(UserError);
  expect(enter).toThrow(key);
});
