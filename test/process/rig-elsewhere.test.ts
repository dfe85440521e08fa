/** A rig and its service as two programs: one simulated time, one outcome, and no way out of it. */
import {
  copyFileSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { parseSite } from "../../config/load.ts";
import { createLocalCalendar } from "../../config/local-calendar.ts";
import { readEvents } from "../../service/history/reading/events.ts";
import { openReader } from "../../service/history/reading/reader.ts";
import { awaitRig } from "../../service/cli/serve-rig.ts";
import { writeDayCsv } from "../../simulator/days/write-csv.ts";
import { bywash, startBywash } from "../support/command-line.ts";
import type { Running } from "../support/command-line.ts";
import { freePort } from "../support/free-port.ts";
import { silentLog } from "../support/log.ts";
import { startWithFiles } from "../support/mosquitto.ts";
import type { Mosquitto } from "../support/mosquitto.ts";
import { createStranger } from "../support/stranger.ts";

const TICK = "60 s";
const SITE = "config/examples/malga.yaml";
const DAY = "sample:measured";
/** Makes a day of so many steps that it is not over before somebody else has had his say. */
const SHORT_TICK = "10 s";

const folder = mkdtempSync(join(tmpdir(), "bywash-rig-"));
let broker: Mosquitto;
beforeAll(async () => {
  copyFileSync(SITE, join(folder, "site.yaml"));
  const port = await freePort();
  // Without TCP_NODELAY a day would wait for 40 ms thousands of times.
  const open = ["allow_anonymous true", "persistence false", "set_tcp_nodelay true", ""];
  const lines = [`listener ${String(port)} 127.0.0.1`, ...open];
  broker = await startWithFiles({ port, files: { "mosquitto.conf": lines.join("\n") } });
});
afterAll(async () => {
  await broker.stop();
  rmSync(folder, { recursive: true });
});

const rigArgs = (tick = TICK, day = [DAY], config = "site.yaml"): string[] => {
  const site = ["--config", config, "--tick", tick];
  return ["rig", ...day, ...site, "--broker", broker.url, "--json"];
};

const startRig = (...of: Parameters<typeof rigArgs>): Running =>
  startBywash([...rigArgs(...of), "--service", "elsewhere"], { cwd: folder });

function startService(flags: readonly string[] = [], tick = TICK, config = "site.yaml"): Running {
  const sets = [`site.tick=${tick}`, "web.port=0"].flatMap((set) => ["--set", set]);
  const args = ["serve", "--config", config, ...sets, "--rig", broker.url, ...flags];
  return startBywash(args, { cwd: folder });
}

async function webOf(service: Running): Promise<string> {
  const runs = /"web":\{"host":"([^"]+)","port":(\d+)\}.*"msg":"service runs"/u;
  const [, host = "", port = ""] = await service.says(runs);
  return `http://${host}:${port}`;
}

/** Two noons at Golden, Colorado, and the night between in which its clocks are put back. */
function overTheChange(): string {
  const calendar = createLocalCalendar("America/Denver");
  const stepMs = 600_000;
  const startMs = Date.parse("2026-10-31T17:00:00Z");
  const timesMs = Float64Array.from({ length: 27.5 * 6 }, (_, row) => startMs + row * stepMs);
  const utcOffsetsMs = timesMs.map((atMs) => {
    const { localDay, localMinute } = calendar(atMs);
    return localDay * 86_400_000 + localMinute * 60_000 - atMs;
  });
  // By the sun, which knows nothing of clocks.
  const sunW = timesMs.map((atMs) => {
    const hour = new Date(atMs).getUTCHours();
    return hour >= 14 && hour < 23 ? 5000 : 0;
  });
  return writeDayCsv({
    ...{ name: "golden", site: null, source: null, stepMs, timesMs, utcOffsetsMs, gaps: [] },
    // NREL's station there.
    place: { latitudeDeg: 39.742, longitudeDeg: -105.18, utcOffsetMs: utcOffsetsMs[0] ?? NaN },
    columns: new Map([
      ["pv_potential_w", sunW],
      ["base_load_w", timesMs.map(() => 200)],
    ]),
  });
}

/** Hours in which the load was started. */
function startsOf(load: string, database: string): string[] {
  const reader = openReader(database);
  try {
    const all = { fromMs: null, toMs: null, codes: null, text: null, textCodes: [], before: null };
    return readEvents(reader, { ...all, load, limit: 1000 })
      .filter(({ change }) => change === "started")
      .map(({ atMs }) => new Date(atMs).toISOString().slice(0, 13))
      .reverse();
  } finally {
    reader.close();
  }
}

describe("a rig and its service as two programs", () => {
  it("come to the very figures of one program, and say that the time is simulated", async () => {
    const stranger = await createStranger(broker.url, { topics: ["bywash/malga/status"] });
    const rig = startRig();
    const service = startService(["--set", "history.folder=kept"]);
    const web = await webOf(service);
    const answer = (path: string) => fetch(`${web}${path}`).then((got) => got.json());
    expect(await answer("/api/site")).toMatchObject({ isTimeSimulated: true, hasHistory: true });
    expect(await answer("/api/state")).toMatchObject({ isTimeSimulated: true });
    const told = await bywash(["explain", "--url", web]);
    expect(told.stdout).toContain("of a simulated time");
    const online = await stranger.waitFor(({ payload }) => payload.includes("online"));
    expect(JSON.parse(online.payload)).toMatchObject({ isTimeSimulated: true });

    const two = await rig.ended;
    expect({ code: two.code, said: two.stderr }).toEqual({
      code: 0,
      said: `waiting for: bywash serve --config FILE --rig ${broker.url}\n`,
    });
    const left = await service.ended;
    expect(left).toMatchObject({ code: 0, stderr: "" });
    expect(left.stdout).toMatch(/"level":40.*simulated time is followed/u);
    const last = stranger.seen.at(-1);
    expect(JSON.parse(last?.payload ?? "{}")).toMatchObject({ status: "offline" });
    await stranger.end();

    const one = await bywash(rigArgs(), { cwd: folder });
    expect(one).toMatchObject({ code: 0, stderr: "" });
    expect(two.stdout).toBe(one.stdout);
    const replay = ["replay", DAY, "--config", "site.yaml", "--set", `site.tick=${TICK}`];
    const { stdout } = await bywash([...replay, "--json"], { cwd: folder });
    const [useful, ofReplay] = [two.stdout, stdout].map(
      (text) => (JSON.parse(text) as { totals: Record<string, number> }).totals,
    );
    expect(ofReplay?.["usefulDivertedWh"]).toBeGreaterThan(2_000);
    const share = (useful?.["usefulDivertedWh"] ?? 0) / (ofReplay?.["usefulDivertedWh"] ?? 1);
    expect(Math.abs(share - 1)).toBeLessThan(0.01);

    // What was kept of it stands where it was asked for, and nowhere else.
    expect(readdirSync(join(folder, "kept"))).toContain("history.db");
    expect(readdirSync(folder).sort()).toEqual(["kept", "malga.token", "site.yaml"]);
    const written = readFileSync(join(folder, "site.yaml"), "utf8");
    writeFileSync(join(folder, "kept.yaml"), `${written}\nhistory:\n  folder: kept\n`);
    const exported = await bywash(
      ["export", "--config", "kept.yaml", "--from", "2012-05-17", "--out", "day.csv"],
      { cwd: folder },
    );
    expect(exported).toMatchObject({ code: 0, stderr: "" });
    const rows = readFileSync(join(folder, "day.csv"), "utf8").split("\n");
    // Rome is 9 h ahead of the record: of its day, 15 h are of the same date there.
    expect(rows.filter((row) => row.startsWith("2012-05-17T")).length).toBe(900);
  });

  it("go by the record's clocks, also on the day on which those change", async () => {
    writeFileSync(join(folder, "golden.csv"), overTheChange());
    // Hours that an hour's difference moves: the cooler may run from noon to one.
    const site = readFileSync(SITE, "utf8").replace(
      '{ from: "07:00", to: "21:00" }',
      '{ from: "12:00", to: "13:00" }',
    );
    writeFileSync(join(folder, "noon.yaml"), site);
    const day = ["golden.csv", "--start-soc", "98 %"];
    const rig = startRig(TICK, day, "noon.yaml");
    const service = startService(["--set", "history.folder=noon"], TICK, "noon.yaml");
    const two = await rig.ended;
    expect(two).toMatchObject({ code: 0 });
    expect(await service.ended).toMatchObject({ code: 0, stderr: "" });
    const one = await bywash(rigArgs(TICK, day, "noon.yaml"), { cwd: folder });
    expect(two.stdout).toBe(one.stdout);
    // Noon is 18:00 UTC before the change, and 19:00 UTC after it.
    const starts = startsOf("whey-cooler", join(folder, "noon", "history.db"));
    expect(starts).toEqual(["2026-10-31T18", "2026-11-01T19"]);
    for (const name of ["noon", "noon.yaml", "golden.csv"]) {
      rmSync(join(folder, name), { recursive: true });
    }
  });

  it("the service leaves, everything off, as soon as it hears more of a shed than the rig's", async () => {
    const real = await createStranger(broker.url, { topics: ["shed/contactor/set"] });
    const rig = startRig(SHORT_TICK);
    const service = startService([], SHORT_TICK);
    await webOf(service);
    await real.waitFor(({ payload }) => payload === "0");
    real.seen.length = 0;
    await real.say("shed/roof/w", "1200");
    const { code, stderr } = await service.ended;
    expect(code).toBe(1);
    expect(stderr).toContain("must not hear a real shed");
    expect(new Set(real.seen.map(({ payload }) => payload))).toEqual(new Set(["0"]));
    const alone = await rig.ended;
    expect(alone.code).toBe(1);
    expect(alone.stderr).toContain("answer did not come through the broker within 15 s");
    await real.end();
  });

  it("the service leaves when the rig is killed", async () => {
    const rig = startRig(SHORT_TICK);
    const service = startService([], SHORT_TICK);
    await webOf(service);
    rig.process.kill("SIGKILL");
    expect(await service.ended).toMatchObject({ code: 0, stderr: "" });
    expect((await rig.ended).code).toBe(null);
  });

  it("both say so when their steps differ", async () => {
    const rig = startRig("30 s");
    const { code, stderr } = await startService().ended;
    expect(code).toBe(2);
    expect(stderr).toMatch(/site\.tick {2}\[rig-tick\][^]*found: +60 s[^]*site\.tick=30 s/u);
    const refused = await rig.ended;
    expect(refused.code).toBe(2);
    expect(refused.stderr).toMatch(/\[rig-refused\][^]*the service decides every 60 s/u);
  });

  it("the service refuses the site's own broker, however its address is written", async () => {
    const own = broker.url.replace("127.0.0.1", "shed.example");
    for (const flag of [own, own.replace("mqtt:", "mqtts:")]) {
      const site = ["serve", "--config", "site.yaml", "--set", `broker={url: "${own}"}`];
      const { code, stderr } = await bywash([...site, "--rig", flag], { cwd: folder });
      expect(code).toBe(2);
      expect(stderr).toMatch(/--rig {2}\[rig-own-broker\][^]*shed\.example/u);
    }
  });

  it("the service does not begin without a rig", async () => {
    const site = parseSite({ text: readFileSync(SITE, "utf8"), fileName: SITE, overrides: [] });
    const waiting = awaitRig(site, broker.url, { log: silentLog, withinMs: 300 });
    await expect(waiting).rejects.toThrow(/\[rig-silent\][^]*no rig within 0\.3 s/u);
    const nowhere = `mqtt://127.0.0.1:${String(await freePort())}`;
    const lost = awaitRig(site, nowhere, { log: silentLog, withinMs: 300 });
    await expect(lost).rejects.toThrow("[broker-closed]");
  });
});
