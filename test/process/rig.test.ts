/** Whole days through a real broker come to what a replay of the same days comes to. */
import { readFileSync } from "node:fs";
import mqtt from "mqtt";
import { afterEach, describe, expect, it } from "vitest";
import { parseSite } from "../../config/load.ts";
import { createLocalCalendar } from "../../config/local-calendar.ts";
import { createRigRun } from "../../service/cli/rig-run.ts";
import type { RigRunOptions } from "../../service/cli/rig-contract.ts";
import { step } from "../../service/control/step.ts";
import type { DaySeries } from "../../simulator/days/day-file.ts";
import { readDayCsv } from "../../simulator/days/read-csv.ts";
import type { OutcomeReport } from "../../simulator/outcome.ts";
import { replay } from "../../simulator/replay.ts";
import { syntheticDay } from "../../simulator/weather/synthetic-day.ts";
import { bywash } from "../support/command-line.ts";
import { freePort } from "../support/free-port.ts";
import { silentLog } from "../support/log.ts";
import { startWithFiles } from "../support/mosquitto.ts";
import type { Mosquitto } from "../support/mosquitto.ts";

const TICK_S = 30;
const SAMPLE = "simulator/samples/measured-broken-cloud.csv";
const MALGA = "config/examples/malga.yaml";
const TASMANIA = "config/examples/tasmania.yaml";

let broker: Mosquitto | null = null;
afterEach(async () => {
  await broker?.stop();
  broker = null;
});

/** Without TCP_NODELAY a day would wait for 40 ms thousands of times. */
async function openMosquitto(): Promise<string> {
  const port = await freePort();
  const lines = [
    `listener ${String(port)} 127.0.0.1`,
    "allow_anonymous true",
    "persistence false",
    "set_tcp_nodelay true",
    "",
  ];
  broker = await startWithFiles({ port, files: { "mosquitto.conf": lines.join("\n") } });
  return broker.url;
}

function siteOf(file: string) {
  const overrides = [`site.tick=${String(TICK_S)} s`, "broker.embedded.port=0"];
  return parseSite({ text: readFileSync(file, "utf8"), fileName: file, overrides });
}

interface Scene {
  readonly file: string;
  readonly days: readonly DaySeries[];
  readonly url?: string;
  readonly forMs?: number;
  /** Somebody who is there already is heard at once; it is nobody that takes the whole time. */
  readonly listenMs?: number;
  readonly onDecision?: RigRunOptions["listener"]["onDecision"];
}

function runRig({ file, days, url, listenMs = 300, ...scene }: Scene): Promise<OutcomeReport> {
  return createRigRun({
    site: siteOf(file),
    days,
    startFraction: 0.8,
    mayBridge: false,
    speed: Infinity,
    forMs: scene.forMs ?? Infinity,
    step,
    log: silentLog,
    version: "test",
    elsewhere: url === undefined ? null : { url, listenMs },
    hasWeb: false,
    serviceElsewhere: null,
    listener: {
      onReady: () => Promise.resolve(),
      onDecision: scene.onDecision ?? (() => undefined),
    },
  }).run();
}

function runReplay({ file, days }: Scene): OutcomeReport {
  const site = siteOf(file);
  return replay({
    site,
    days,
    step,
    calendar: createLocalCalendar(site.timeZone),
    stepS: TICK_S,
    startFraction: 0.8,
    mayBridge: false,
    plant: null,
    onDecision: null,
  });
}

const measured = (): DaySeries[] => [readDayCsv(readFileSync(SAMPLE, "utf8"), SAMPLE)];

const madeUp = (file: string): DaySeries[] =>
  ["2025-06-12", "2025-06-13"].map((localDate, index) =>
    syntheticDay({ site: siteOf(file), localDate, seed: 3 + index, kind: "broken" }),
  );

/** As often started, and energies within 1 %. */
function expectAlike(one: OutcomeReport, other: OutcomeReport): void {
  expectAlikeInEnergy(one, other);
  const starts = ({ loads }: OutcomeReport) =>
    Object.entries(loads).map(([id, load]) => `${id} ${String(load.starts)}`);
  expect(starts(one)).toEqual(starts(other));
}

function expectAlikeInEnergy(one: OutcomeReport, other: OutcomeReport): void {
  const { usefulDivertedWh } = other.totals;
  expect(usefulDivertedWh).toBeGreaterThan(2_000);
  const apartWh = Math.abs(one.totals.usefulDivertedWh - usefulDivertedWh);
  expect(apartWh).toBeLessThan(0.01 * usefulDivertedWh);
  expect(one.totals.potentialWh).toBeCloseTo(other.totals.potentialWh, 0);
  expect(one.totals.baseLoadWh).toBeCloseTo(other.totals.baseLoadWh, 0);
  expect(one.totals.starts).toBeGreaterThanOrEqual(3);
  expect(one.days).toBe(other.days);
}

describe("a rig", () => {
  it("agrees with the replay of a measured day, on the built-in broker", async () => {
    const scene = { file: MALGA, days: measured() };
    expectAlike(await runRig(scene), runReplay(scene));
  });

  it("agrees with the replay of a measured day, on Mosquitto", async () => {
    const scene = { file: MALGA, days: measured(), url: await openMosquitto() };
    expectAlike(await runRig(scene), runReplay(scene));
  });

  // Meters tell six digits, and a reading that crosses a limit asks for a decision at once: under
  // broken cloud, at the edge of a mark, that makes another start here and there.
  it("goes on from one day to the next", async () => {
    const scene = { file: MALGA, days: madeUp(MALGA) };
    const report = await runRig(scene);
    expect(report.days).toBe(2);
    expectAlikeInEnergy(report, runReplay(scene));
  });

  it("refuses days with a hole between them", async () => {
    const [first, second] = madeUp(MALGA);
    const later = syntheticDay({
      site: siteOf(MALGA),
      localDate: "2025-06-15",
      seed: 1,
      kind: "clear",
    });
    expect(second).toBeDefined();
    const days = first === undefined ? [] : [first, later];
    await expect(runRig({ file: MALGA, days })).rejects.toThrow("day-gap");
  });

  it("refuses a broker on which somebody publishes what the shed would", async () => {
    const url = await openMosquitto();
    const shed = await mqtt.connectAsync(url);
    const talk = setInterval(() => void shed.publishAsync("shed/roof/w", "1200"), 50);
    const listenMs = 60_000;
    await expect(runRig({ file: MALGA, days: measured(), url, listenMs })).rejects.toThrow(
      /rig-shed-present[^]*shed\/roof\/w/u,
    );
    clearInterval(talk);
    await shed.endAsync();
  });

  it("refuses a broker on which a service of these settings is, and takes one that has left", async () => {
    const url = await openMosquitto();
    const service = await mqtt.connectAsync(url);
    const say = (status: string) =>
      service.publishAsync(`bywash/malga/status`, JSON.stringify({ status, mode: "active" }), {
        qos: 1,
        retain: true,
      });
    await say("online");
    const listenMs = 60_000;
    await expect(runRig({ file: MALGA, days: measured(), url, listenMs })).rejects.toThrow(
      "rig-shed-present",
    );
    await say("offline");
    const { days } = await runRig({ file: MALGA, days: measured(), url, forMs: 60_000 });
    expect(days).toBe(1);
    await service.endAsync();
  });

  it("fails rather than go on without a message", async () => {
    const url = await openMosquitto();
    let lost = Promise.resolve();
    const run = runRig({
      file: MALGA,
      days: measured(),
      url,
      onDecision: () => {
        lost = broker?.stop() ?? lost;
      },
    });
    await expect(run).rejects.toThrow("did not come through the broker");
    await lost;
  });

  it("says when no broker answers", async () => {
    const url = `mqtt://127.0.0.1:${String(await freePort())}`;
    await expect(runRig({ file: MALGA, days: measured(), url })).rejects.toThrow("broker-closed");
  });
});

describe("bywash rig", () => {
  it("prints the same object as a replay, and takes the tick", async () => {
    const [rig, replayed] = await Promise.all([
      bywash(["rig", "sample:measured", "--tick", "60 s", "--json"]),
      bywash(["replay", "sample:measured", "--set", "site.tick=60 s", "--json"]),
    ]);
    expect({ code: rig.code, stderr: rig.stderr }).toEqual({ code: 0, stderr: "" });
    const keys = (text: string): unknown => {
      const { loads, perDay, ...rest } = JSON.parse(text) as Record<string, object>;
      return [Object.keys(rest), Object.keys(loads ?? {}), Object.keys(perDay ?? {})];
    };
    expect(keys(rig.stdout)).toEqual(keys(replayed.stdout));
    expect(rig.stdout).toContain('"tickMs": 60000');
  });

  it.each([
    [["none.csv"], "no such file"],
    [["sample:measured", "--tick", "7 s"], "--tick"],
    [["sample:measured", "--start-soc", "80"], "with its unit"],
    [["sample:measured", "--config", TASMANIA, "--set", "battery.floor=60"], "[unit-missing]"],
    [["sample:measured", "--broker", "not an address"], "--broker"],
  ])("refuses %j", async (flags, said) => {
    const { code, stdout, stderr } = await bywash(["rig", ...flags]);
    expect({ code, stdout }).toEqual({ code: 2, stdout: "" });
    expect(stderr).toContain(said);
  });
});
