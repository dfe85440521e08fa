/** `bywash report` as it is typed, on a history that is there. */
import { cpSync, mkdirSync, mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { Ajv2020 } from "ajv/dist/2020.js";
import { afterAll, beforeAll, expect, test } from "vitest";
import { createLocalCalendar } from "../../config/local-calendar.ts";
import { dayStretch } from "../../service/local-days.ts";
import { mondayOf, weekText } from "../../service/look-back/iso-week.ts";
import type { LookBack } from "../../service/look-back/report-schema.ts";
import { createRecorder } from "../look-back/recorded.ts";
import { bywash } from "../support/command-line.ts";

const MONDAY = Date.UTC(2026, 2, 2) / 86_400_000;
const calendar = createLocalCalendar("Europe/Rome");
let folder = "";

/** One sunny minute after the other, on two days of W10 and on one of the last whole week. */
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "bywash-report-"));
  cpSync("config/examples/malga.yaml", join(folder, "site.yaml"));
  mkdirSync(join(folder, "malga.history"));
  const recorder = createRecorder(join(folder, "malga.history", "history.db"));
  for (const localDay of [MONDAY, MONDAY + 1, lastMonday()]) {
    const { fromMs, toMs } = dayStretch(localDay, calendar);
    recorder.minutes(fromMs, toMs, () => ({
      "decision.sourcesPowerW": 1_000,
      "decision.potentialW": 1_000,
      "decision.isCurtailed": 0,
      "decision.socFraction": 0.9,
      "inverter.powerW": 400,
      "decision.loads.spring-pump.allottedW": 100,
    }));
  }
  recorder.close();
});
afterAll(() => rmSync(folder, { recursive: true }));

const lastMonday = (): number => mondayOf(calendar(Date.now()).localDay) - 7;
const report = (...args: readonly string[]) =>
  bywash(["report", "--config", "site.yaml", ...args], { cwd: folder });

test("a week is told in 80 columns, the paragraph first", async () => {
  const { code, stdout, stderr } = await report("--week", "2026-W10");
  expect({ code, stderr }).toEqual({ code: 0, stderr: "" });
  const [heading, , first] = stdout.split("\n");
  expect(heading).toMatch(/: week 2026-W10, 2026-03-02 to 2026-03-08$/u);
  expect(first).toMatch(/^Only 28\.5 % of it was recorded, 120 h are missing\./u);
  expect(stdout).toMatch(/^Tue 2026-03-03 +24\.0 +24\.0 +0\.0 +2\.4 +90 % +- +0\.0 +0$/mu);
  expect(stdout.split("\n").filter((line) => line.length > 80)).toEqual([]);
});

test("as JSON it has the form that `schema --of report` tells", async () => {
  const schema = JSON.parse((await bywash(["schema", "--of", "report"])).stdout) as object;
  const { code, stdout } = await report("--week", "2026-W10", "--json");
  expect(code).toBe(0);
  const answer = JSON.parse(stdout) as LookBack;
  const ajv = new Ajv2020({ strict: false, validateFormats: false });
  const isRight = ajv.compile(schema);
  expect(isRight(answer), JSON.stringify(isRight.errors)).toBe(true);
  expect(answer.totals).toMatchObject({ usedWh: 48_000, divertedWh: 4_800, thrownAwayWh: 0 });
});

test("without a week it is the last whole one; a day is told alone", async () => {
  const last = JSON.parse((await report("--json")).stdout) as LookBack;
  // Were it Monday midnight just now, one of the two would be right.
  expect([lastMonday(), lastMonday() - 7].map(weekText)).toContain(last.period.name);
  const day = JSON.parse((await report("--day", "2026-03-03", "--json")).stdout) as LookBack;
  expect(day.period).toMatchObject({ kind: "day", name: "2026-03-03", isWhole: true });
  expect(day.days).toHaveLength(1);
});

test.each([
  [["--week", "2026-W54"], "--week  [flag-value]"],
  [["--day", "2026-02-30"], "--day  [flag-value]"],
  [["--day", "2026-03-03", "--week", "2026-W10"], "not both"],
  [["--week", "2020-W10"], "2020-W10  [days-missing]"],
  [["--set", "history.folder=elsewhere"], "[history-missing]"],
])("%j is a user's mistake", async (args, said) => {
  const { code, stdout, stderr } = await report(...args);
  expect({ code, stdout }).toEqual({ code: 2, stdout: "" });
  expect(stderr).toContain(said);
});
