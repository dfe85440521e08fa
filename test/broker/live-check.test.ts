/** `bywash check --live` on a real Mosquitto, as it is typed; and what it asks of a service. */
import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from "vitest";
import type { LiveReport } from "../../service/live-check/listen.ts";
import { bywash } from "../support/command-line.ts";
import { startDemo } from "../support/demo-process.ts";
import type { DemoProcess } from "../support/demo-process.ts";
import { freePort } from "../support/free-port.ts";
import { mosquittoPassword } from "../support/mosquitto-password.ts";
import { CONFIG_FOLDER } from "../support/mosquitto-process.ts";
import { startMosquitto, startWithFiles } from "../support/mosquitto.ts";
import type { Mosquitto } from "../support/mosquitto.ts";
import { createStranger } from "../support/stranger.ts";
import type { Stranger } from "../support/stranger.ts";

const SPOKEN: Readonly<Record<string, unknown>> = {
  "shed/battery": { soc: 95.5, v: 54.1, i: 12.5, t: 14, noCharge: 0, noDischarge: 0 },
  "shed/controller": { stage: "main" },
  "shed/roof/w": 1_262,
  "shed/inverter": { ac: { w: 500, v: 230, hz: 50 }, t: 31, fault: 0 },
  "shed/contactor": 0,
  "shed/surplus/w": 0,
  "shed/heater": { stage: 0, w: 0 },
  "shed/tank/c": 48.2,
  "shed/pump": "off",
  "shed/pump/w": 0,
  "shed/pump/by-hand": 0,
  "shed/cooler": 0,
};

let folder = "";
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "bywash-live-"));
  cpSync("config/examples/malga.yaml", join(folder, "site.yaml"));
});
afterAll(() => rmSync(folder, { recursive: true }));

const check = (...args: readonly string[]) =>
  bywash(["check", "--config", "site.yaml", "--live", ...args], { cwd: folder });

interface Answer {
  readonly ok: boolean;
  readonly live: LiveReport;
}

const answered = (stdout: string): Answer => JSON.parse(stdout) as Answer;
const found = ({ live }: Answer, name: string) => live.signals.find((one) => one.signal === name)!;

describe("on Mosquitto", () => {
  let mosquitto: Mosquitto;
  let shed: Stranger;
  let heard: Stranger;
  let speaking: NodeJS.Timeout;
  let said: Record<string, unknown>;

  beforeAll(async () => {
    mosquitto = await startMosquitto();
    shed = await createStranger(mosquitto.url, { topics: [] });
    heard = await createStranger(mosquitto.url);
  });
  afterAll(async () => {
    await shed.end();
    await heard.end();
    await mosquitto.stop();
  });
  beforeEach(() => {
    said = { ...SPOKEN };
    speaking = setInterval(() => {
      for (const [topic, value] of Object.entries(said)) {
        void shed.say(topic, JSON.stringify(value).replace(/^"|"$/gu, ""));
      }
    }, 200);
  });
  afterEach(() => clearInterval(speaking));

  const live = (...args: readonly string[]) =>
    check("--set", `broker={url: '${mosquitto.url}'}`, ...args);

  test("all that is mapped is shown with value, unit and pace; it ends with 0", async () => {
    // Far longer than the test may take: it ends because all is there.
    const { code, stdout, stderr } = await live("--for", "1 h");
    expect({ code, stderr }).toEqual({ code: 0, stderr: "" });
    expect(stdout).toMatch(/^Heard on mqtt:\S+ within [\d.]+ s: 22 of 22 mapped signals\.$/mu);
    expect(stdout).toMatch(/^battery\.soc +95\.5 % +every [\d.]+ s$/mu);
    expect(stdout).toMatch(/^inverter\.power +500 W +every/mu);
    expect(stdout).toMatch(/^load\.water-heater\.tankTemperature +48\.2 °C/mu);
    expect(stdout).not.toContain("add up");
    expect(stdout.split("\n").filter((line) => line.length > 80)).toEqual([]);
    // It listens, and says nothing whatever.
    await heard.settle();
    expect(heard.seen.filter(({ topic }) => !(topic in SPOKEN) && !/^marker/u.test(topic))).toEqual(
      [],
    );
    expect(mosquitto.log()).toMatch(/malga-check-[0-9a-f]{8}/u);
  });

  test("what is missing, wrong or doubtful is told with what was heard; it ends with 1", async () => {
    said["shed/roof/power"] = said["shed/roof/w"];
    delete said["shed/roof/w"];
    said["shed/battery"] = { SOC: 95.5, v: 54_100, i: -12.5, t: 14, noCharge: 0, noDischarge: 0 };
    said["shed/controller"] = { stage: "boost" };
    delete said["shed/cooler"];
    await shed.say("shed/cooler", "0", true);
    const { code, stdout, stderr } = await live("--for", "10 s", "--json");
    expect({ code, stderr }).toEqual({ code: 1, stderr: "" });
    const answer = answered(stdout);
    expect(answer.ok).toBe(true);
    const roof = found(answer, "array.roof.power");
    expect(roof).toMatchObject({ state: "missing", messageCount: 0 });
    expect(roof.notes).toEqual(["nothing came on shed/roof/w; heard instead: shed/roof/power"]);
    const soc = found(answer, "battery.soc");
    expect(soc.state).toBe("unreadable");
    expect(soc.notes.join()).toMatch(/^its payload has \/SOC \(95\.5\), /u);
    const voltage = found(answer, "battery.voltage");
    expect(voltage.state).toBe("implausible");
    expect(voltage.notes).toEqual(['54100 would fit with `unit: "mV"`']);
    const stage = found(answer, "battery.chargeStage");
    expect(stage.notes.join()).toContain("boost");
    expect(found(answer, "load.whey-cooler.report")).toMatchObject({ state: "kept", isFine: true });
    expect(found(answer, "battery.current")).toMatchObject({ state: "there", value: -12.5 });
    await shed.say("shed/cooler", "", true);
  });

  test("a sign that is wrong shows in the sum", async () => {
    const { code, stdout } = await live("--set", "telemetry.battery.current.positive=discharging");
    expect(code).toBe(0);
    expect(stdout.replace(/\s+/gu, " ")).toMatch(
      /The powers do not add up: 1\.\d+ kW are unexplained\. They would if: battery\.current has/u,
    );
  });
});

describe("with access rules", () => {
  /** As the service's own user, who may hear all of the shed but this. */
  const RULES = [
    "user bywash",
    "topic deny shed/roof/w",
    "topic read shed/#",
    "user devices",
    "topic write shed/#",
    "",
  ];
  let broker: Mosquitto;
  let shed: Stranger;
  let speaking: NodeJS.Timeout;

  beforeAll(async () => {
    const port = await freePort();
    const conf = [
      `listener ${port} 127.0.0.1`,
      "persistence false",
      "log_dest stderr",
      `password_file ${CONFIG_FOLDER}/passwords`,
      `acl_file ${CONFIG_FOLDER}/acl`,
      "",
    ];
    const passwords = ["bywash", "devices"].map((user) => mosquittoPassword(user, `of-${user}`));
    const files = {
      "mosquitto.conf": conf.join("\n"),
      acl: RULES.join("\n"),
      passwords: passwords.join(""),
    };
    broker = await startWithFiles({ port, files });
    writeFileSync(join(folder, "password"), "of-bywash\n", { mode: 0o600 });
    const devices = { username: "devices", password: "of-devices", topics: [] };
    shed = await createStranger(broker.url, devices);
    speaking = setInterval(() => {
      for (const [topic, value] of Object.entries(SPOKEN)) {
        void shed.say(topic, JSON.stringify(value).replace(/^"|"$/gu, ""));
      }
    }, 200);
  });
  afterAll(async () => {
    clearInterval(speaking);
    await shed.end();
    await broker.stop();
  });

  const live = (...more: readonly string[]) => {
    const entry = `username: bywash, passwordFile: ${join(folder, "password")}`;
    return check("--set", `broker={url: '${broker.url}', ${entry}}`, "--for", "10 s", ...more);
  };

  test("it enters as the service would, and says what it may not hear", async () => {
    const { code, stdout, stderr } = await live("--json");
    expect({ code, stderr }).toEqual({ code: 1, stderr: "" });
    const answer = answered(stdout);
    const roof = found(answer, "array.roof.power");
    expect(roof).toMatchObject({ state: "missing", isFine: false });
    expect(roof.notes).toEqual([
      "nothing came on shed/roof/w, nor on a topic like it; or its access rules keep it from bywash",
    ]);
    const others = answer.live.signals.filter((one) => one !== roof);
    expect(others.filter(({ isFine }) => !isFine)).toEqual([]);
  });

  test("a wrong password is told", async () => {
    writeFileSync(join(folder, "password"), "of-somebody\n");
    const { code, stderr } = await live();
    expect(code).toBe(1);
    expect(stderr.replace(/\s+/gu, " ")).toMatch(/cannot be heard: the broker .*password/u);
  });
});

test("a broker that is not there is told, after what was understood of the settings", async () => {
  const url = `mqtt://127.0.0.1:${await freePort()}`;
  const { code, stdout, stderr } = await check("--set", `broker={url: '${url}'}`);
  expect(code).toBe(1);
  expect(stdout).toMatch(/^Warnings +none$/mu);
  expect(stderr.replace(/\s+/gu, " ")).toBe(
    `bywash: the broker at ${url} cannot be heard: nothing listens at that address `,
  );
});

test("the built-in broker is there while its service runs", async () => {
  const { code, stderr } = await check("--set", `broker.embedded.port=${await freePort()}`);
  expect(code).toBe(1);
  expect(stderr.replace(/\s+/gu, " ")).toContain("`bywash serve --shadow` has it");
});

describe("--switch", () => {
  let demo: DemoProcess;
  beforeAll(async () => {
    const rest = ["--set", "loads.water-heater.minRest=1 min"];
    demo = await startDemo(["--speed", "20", "--for", "48h", ...rest]);
  });
  afterAll(() => demo.kill());

  const ask = (...args: readonly string[]) => {
    const broker = ["--set", `broker={url: '${demo.broker}', protocol: 3.1.1}`];
    const where = ["--url", demo.web, "--token-file", demo.tokenFile];
    return check(...broker, ...where, "--for", "1 s", ...args);
  };

  test("is refused where nobody can say that he stands by, before anything is heard", async () => {
    for (const [args, words] of [
      [["--switch", "water-heater"], "--somebody-stands-by"],
      [["--switch"], "only on a terminal"],
      [["--switch", "--somebody-stands-by"], "only on a terminal"],
      [["--switch", "pomp", "--somebody-stands-by"], "water-heater"],
    ] as const) {
      const { code, stdout, stderr } = await ask(...args);
      expect({ code, stdout }).toEqual({ code: 2, stdout: "" });
      expect(stderr).toContain(words);
    }
    const alone = await bywash(["check", "-c", "site.yaml", "--switch", "spring-pump"], {
      cwd: folder,
    });
    expect(alone).toMatchObject({ code: 2, stdout: "" });
    expect(alone.stderr).toContain("--live");
    expect(await stateOfTest()).toBeNull();
  });

  test("has the service test it, and tells what was proven and what not", async () => {
    await expect.poll(waitsForRest, { timeout: 120_000 }).toBe(false);
    const { stdout, stderr } = await ask("--switch", "water-heater", "--somebody-stands-by");
    const told = stdout.slice(stdout.indexOf("\nwater-heater: "));
    expect(told.replace(/\s+/gu, " ")).toMatch(
      /water-heater: Proven: it goes on and off when it is told to\. Not proven: that it drops by itself after 90 s without commands; what its own protections do\./u,
    );
    expect(told).toMatch(/^ {2}its report: on seen after [\d.]+ s, off seen after [\d.]+ s$/mu);
    expect(told).toMatch(/^ {2}its meter: on seen after [\d.]+ s \([\d.]+ k?W\), off seen/mu);
    expect(stderr).toContain("it is on; it goes off by itself");
    expect(stdout.split("\n").filter((line) => line.length > 80)).toEqual([]);
    expect(await stateOfTest()).toMatchObject({ id: "water-heater", isProven: true });
  });

  test("tells why the service did not, with 1", async () => {
    const json = ["--json", "--switch", "whey-cooler", "--somebody-stands-by"];
    const { code, stdout } = await ask(...json);
    expect(code).toBe(1);
    const { switches } = JSON.parse(stdout) as { readonly switches: readonly object[] };
    expect(switches).toMatchObject([
      {
        id: "whey-cooler",
        isProven: false,
        outcome: expect.stringMatching(/never went on: off: /u),
      },
    ]);
  });

  test("needs the service's own token, and a service", async () => {
    const wrong = join(folder, "wrong.token");
    writeFileSync(wrong, "another-token-another-token");
    const args = ["--switch", "water-heater", "--somebody-stands-by"];
    const refused = await ask(...args, "--token-file", wrong);
    expect(refused.code).toBe(2);
    expect(refused.stderr).toContain("[token-refused]");
    const url = `http://127.0.0.1:${await freePort()}`;
    const none = await ask(...args, "--url", url);
    expect(none.code).toBe(1);
    expect(none.stderr.replace(/\s+/gu, " ")).toMatch(
      /nothing is switched without one: start `bywash serve`/u,
    );
  });

  const state = async () =>
    (await (
      await fetch(`${demo.web}/api/state`, {
        headers: { authorization: `Bearer ${readFileSync(demo.tokenFile, "utf8").trim()}` },
      })
    ).json()) as {
      readonly switchTest: unknown;
      readonly loads: readonly { readonly id: string; readonly code: string }[];
    };
  const stateOfTest = async () => (await state()).switchTest;
  const waitsForRest = async () =>
    (await state()).loads.find(({ id }) => id === "water-heater")?.code === "waiting-rest";
});
