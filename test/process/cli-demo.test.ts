/** `demo` as a user types it. */
import { mkdtempSync, readdirSync, rmSync } from "node:fs";
import { createServer } from "node:net";
import type { AddressInfo, Server } from "node:net";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, afterEach, beforeAll, describe, expect, it } from "vitest";
import { bywash, startBywash } from "../support/command-line.ts";
import type { Running, Typed } from "../support/command-line.ts";

let scratch = "";
beforeAll(() => {
  scratch = mkdtempSync(join(tmpdir(), "bywash-cli-"));
});
afterAll(() => rmSync(scratch, { recursive: true }));
// However a demo ends, nothing of it stays on the machine.
afterEach(() => expect(readdirSync(scratch)).toEqual([]));

const where = (): { readonly env: Readonly<Record<string, string>> } => ({
  env: { TMPDIR: scratch },
});
const demo = (...flags: readonly string[]): Promise<Typed> => bywash(["demo", ...flags], where());
const startDemo = (...flags: readonly string[]): Running =>
  startBywash(["demo", ...flags], where());

const TOTALS = [
  "divertedWh usefulDivertedWh curtailedWh potentialWh baseLoadWh unservedWh",
  "batteryThroughputWh minSocPercent endSocPercent generatorWh reserveDrawnWh reserveDays",
  "sunsetMisses absorptionMisses starts reconstructedFraction boundShareFraction regretWh",
].flatMap((line) => line.split(" "));
const LOAD = "energyWh usefulWh starts shortestRunS shortestRestS longestRunS".split(" ");
const REPORT = "formatVersion days plant settings totals loads bound range unused perDay".split(
  " ",
);

describe("demo", () => {
  it("--json prints one object, its keys in the documented order, and nothing else", async () => {
    const { code, stdout, stderr } = await demo("--speed", "100000", "--for", "2h", "--json");
    expect({ code, stderr }).toEqual({ code: 0, stderr: "" });
    const report = JSON.parse(stdout) as {
      formatVersion: number;
      totals: Record<string, number>;
      loads: Record<string, object>;
      perDay: object[];
    };
    expect(Object.keys(report)).toEqual(REPORT);
    expect(report.formatVersion).toBe(1);
    expect(Object.keys(report.totals)).toEqual(TOTALS);
    expect(Object.keys(report.loads)).toEqual(["water-heater", "spring-pump", "whey-cooler"]);
    for (const load of Object.values(report.loads)) expect(Object.keys(load)).toEqual(LOAD);
    expect(report.perDay.map((day) => Object.keys(day))).toEqual([["date", ...TOTALS]]);
    expect(report.totals["baseLoadWh"]).toBeGreaterThan(0);
  });

  it("--for says how long: four hours are twice the everyday use of two, or so", async () => {
    const used = async (time: string): Promise<number> => {
      const { stdout } = await demo("--speed", "100000", "--for", time, "--json");
      return (JSON.parse(stdout) as { totals: { baseLoadWh: number } }).totals.baseLoadWh;
    };
    const ratio = (await used("4 h")) / (await used("120 min"));
    expect(ratio).toBeGreaterThan(1.5);
    expect(ratio).toBeLessThan(6);
  });

  it("goes on to other ports where its own are taken, and says which", async () => {
    const taken = await Promise.all([take(), take()]);
    const [broker, web] = taken.map((server) => (server.address() as AddressInfo).port);
    const own = ["--set", `broker.embedded.port=${broker}`, "--set", `web.port=${web}`];
    const { code, stdout, stderr } = await demo("--speed", "100000", "--for", "10 min", ...own);
    for (const server of taken) server.close();
    expect({ code, stderr }).toEqual({ code: 0, stderr: "" });
    const ports = [...stdout.matchAll(/127\.0\.0\.1:(\d+)/gu)].map((match) => Number(match[1]));
    expect(ports).toHaveLength(2);
    expect(ports).not.toContain(broker);
    expect(ports).not.toContain(web);
  });

  it.each(["SIGINT", "SIGTERM"] as const)("ends by %s with 0 and what it came to", async (name) => {
    const running = startDemo("--speed", "600");
    await running.says(/^\d\d:\d\d {2}battery/mu);
    running.process.kill(name);
    const { code, stdout, stderr } = await running.ended;
    expect({ code, stderr }).toEqual({ code: 0, stderr: "" });
    expect(stdout).toMatch(/1 day in a simulated shed/u);
    expect(stdout).toMatch(/^water-heater +\S+ k?Wh/mu);
    expect(stdout.split("\n").filter((line) => line.length > 80)).toEqual([]);
  });

  it("may have a reader that has left", async () => {
    const running = startDemo("--speed", "100000", "--for", "2h");
    running.process.stdout?.destroy();
    expect(await running.ended).toMatchObject({ code: 0, stderr: "" });
  });

  it.each([
    [["--speed", "0"], "a number from 1 to"],
    [["--speed", "fast"], "--speed"],
    [["--for", "soon"], "24 h or 90 min"],
    [["--for", "24"], "--for"],
    [["--sky", "ovrcast"], "did you mean overcast?"],
    [["--date", "2025-02-30"], "2025-02-30"],
    [["--seed", "x"], "--seed"],
    [["--day", "none.csv"], "no such file"],
    [["--day", "sample:brokn"], "did you mean sample:broken?"],
    [["--start-soc", "101 %"], "0 % to 100 %"],
    [["--start-soc", "80"], "with its unit"],
    [["--config", "none.yaml"], "none.yaml"],
    [["--set", "battery.floor=60"], "[unit-missing]"],
  ])("refuses %j", async (flags, said) => {
    const { code, stdout, stderr } = await demo(...flags);
    expect({ code, stdout }).toEqual({ code: 2, stdout: "" });
    expect(stderr).toContain(said);
    expect(stderr).not.toMatch(/^ +at |ENOENT/mu);
  });
});

async function take(): Promise<Server> {
  const server = createServer();
  await new Promise<void>((listening) => server.listen(0, "127.0.0.1", listening));
  return server;
}
