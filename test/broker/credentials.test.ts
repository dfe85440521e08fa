/** Files with secrets: what is wrong with each is said at the start, with file and key. */
import { chmodSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, expect, test } from "vitest";
import type { BrokerSettings } from "../../config/site-settings.ts";
import { accessFrom, NO_TLS_FILES } from "../../service/broker/access.ts";
import { filesOpenToAll, readCredentials } from "../../service/broker/credentials.ts";
import { UserError } from "../../service/errors.ts";
import { makeAuthority, makeCertificate } from "../support/certificates.ts";
import { testBroker } from "../support/site.ts";

const URL = "mqtts://shed.example";

let folder: string;
const at = (name: string): string => join(folder, name);

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "bywash-credentials-"));
  const authority = makeAuthority("authority");
  const own = makeCertificate(authority, { name: "bywash" });
  const other = makeCertificate(authority, { name: "other" });
  const files = {
    "ca.pem": `${authority.certificate}${other.certificate}`,
    "own.pem": own.certificate,
    "own.key": own.key,
    "other.key": other.key,
    "cut.pem": `${authority.certificate}${own.certificate.slice(0, 300)}\n-----END CERTIFICATE-----\n`,
    "garbage.pem": "not a certificate at all",
    empty: "",
    password: "pasture\n",
  };
  for (const [name, text] of Object.entries(files)) writeFileSync(at(name), text, { mode: 0o600 });
});
afterAll(() => rmSync(folder, { recursive: true }));

function settings(own: Partial<BrokerSettings>): BrokerSettings {
  return { ...testBroker(URL), ...own };
}

function tls(files: { ca?: string; certificate?: string; key?: string }): BrokerSettings {
  const path = (name: string | undefined): string | null => (name === undefined ? null : at(name));
  return settings({
    tls: {
      ...NO_TLS_FILES,
      caFile: path(files.ca),
      certificateFile: path(files.certificate),
      keyFile: path(files.key),
    },
  });
}

test("the right ones are read", async () => {
  const right = tls({ ca: "ca.pem", certificate: "own.pem", key: "own.key" });
  const access = accessFrom({ ...right, username: "me", passwordFile: at("password") }, URL);
  const credentials = await readCredentials(access);
  expect(credentials.password).toBe("pasture");
  expect(credentials.tls?.ca).toContain("BEGIN CERTIFICATE");
  expect(credentials.tls?.own?.key).toContain("PRIVATE KEY");
});

test("without TLS no certificate is looked at", async () => {
  const access = accessFrom(tls({ ca: "missing" }), "mqtt://shed.example");
  await expect(readCredentials(access)).resolves.toEqual({ password: null, tls: null });
});

test.each([
  [{ ca: "missing" }, "tls-file-unreadable", "broker.tls.ca"],
  [{ ca: "garbage.pem" }, "tls-file-garbled", "broker.tls.ca"],
  [{ ca: "empty" }, "tls-file-garbled", "broker.tls.ca"],
  [{ ca: "own.key" }, "tls-file-garbled", "broker.tls.ca"],
  [{ ca: "cut.pem" }, "tls-file-garbled", "broker.tls.ca"],
  [{ certificate: "own.pem", key: "missing" }, "tls-file-unreadable", "broker.tls.key"],
  [{ certificate: "own.pem", key: "garbage.pem" }, "tls-file-garbled", "broker.tls.key"],
  [{ certificate: "own.pem", key: "own.pem" }, "tls-file-garbled", "broker.tls.key"],
  [{ certificate: "garbage.pem", key: "own.key" }, "tls-file-garbled", "broker.tls.certificate"],
  [{ certificate: "own.pem", key: "other.key" }, "tls-key-mismatch", "broker.tls.key"],
])("%j is refused with %s at %s", async (files, code, key) => {
  const attempt = readCredentials(accessFrom(tls({ ca: "ca.pem", ...files }), URL));
  await expect(attempt).rejects.toThrow(UserError);
  await expect(attempt).rejects.toMatchObject({ problems: [{ code, key }] });
});

test.each(["missing", "empty"])("a password file that is %s is refused", async (name) => {
  const access = accessFrom({ ...settings({}), username: "me", passwordFile: at(name) }, URL);
  await expect(readCredentials(access)).rejects.toMatchObject({
    problems: [{ code: "password-file-unreadable", where: at(name), key: "broker.passwordFile" }],
  });
});

test("a file beats the environment, and a password goes nowhere without a name", () => {
  process.env["BYWASH_BROKER_PASSWORD"] = "from-the-environment";
  try {
    const named = settings({ username: "me" });
    expect(accessFrom(named, URL).password).toEqual({
      kind: "known",
      password: "from-the-environment",
    });
    expect(accessFrom({ ...named, passwordFile: "f" }, URL).password).toMatchObject({
      kind: "file",
    });
    expect(accessFrom(settings({}), URL).password).toEqual({ kind: "none" });
  } finally {
    delete process.env["BYWASH_BROKER_PASSWORD"];
  }
});

test("secrets that everybody can read are named, and no others", async () => {
  const mine = tls({ ca: "ca.pem", certificate: "own.pem", key: "own.key" });
  const access = accessFrom({ ...mine, username: "me", passwordFile: at("password") }, URL);
  chmodSync(at("ca.pem"), 0o644);
  expect(await filesOpenToAll(access)).toEqual([]);
  chmodSync(at("password"), 0o604);
  chmodSync(at("own.key"), 0o644);
  expect(await filesOpenToAll(access)).toEqual([at("password"), at("own.key")]);
});
