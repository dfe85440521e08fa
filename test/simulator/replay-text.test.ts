import { expect, test } from "vitest";
import { loadSite } from "../../config/load.ts";
import { createLocalCalendar } from "../../config/local-calendar.ts";
import { readDays, readShare, readStepS } from "../../service/cli/replay-input.ts";
import { createEventList, reportText } from "../../service/cli/replay-report.ts";
import { step } from "../../service/control/step.ts";
import { replay } from "../../simulator/replay.ts";

const MALGA = new URL("../../config/examples/malga.yaml", import.meta.url).pathname;
const site = loadSite({ path: MALGA });

test("the report fits 80 columns and tells day, loads, reserve and every start", () => {
  const events = createEventList(site);
  const report = replay({
    site,
    days: readDays(["sample:measured"], site)(() => undefined),
    step,
    calendar: createLocalCalendar(site.timeZone),
    stepS: 60,
    startFraction: 0.8,
    mayBridge: false,
    plant: null,
    onDecision: events.add,
  });
  const text = reportText({
    report,
    site,
    events: events.lines(),
    recordedElsewhere: ["sample:measured"],
  });
  for (const line of text.split("\n")) expect(line.length, line).toBeLessThanOrEqual(80);
  expect(text).toMatch(/^2012-05-17 .* 0 Wh$/m);
  for (const load of site.control.loads) expect(text).toContain(load.id);
  const started = events.lines().filter((line) => /: on: /.test(line));
  expect(started).toHaveLength(report.totals.starts);
  expect(text).toContain("not the site's");
});

test("step and state of charge as written", () => {
  expect(readStepS("60 s")).toBe(60);
  expect(readStepS("1 min")).toBe(60);
  expect(readStepS("10s")).toBe(10);
  for (const bad of ["7 s", "2 min", "0.5 s", "60", "soon", "0 s", "-60 s"]) {
    expect(() => readStepS(bad), bad).toThrow(/--step/);
  }
  expect(readShare("85 %")).toBe(0.85);
  for (const bad of ["101 %", "-1 %", "full"]) expect(() => readShare(bad)).toThrow(/--start-soc/);
});

test("unknown samples, missing files and days out of order are refused", () => {
  const open = (...names: string[]) => [...readDays(names, site)(() => undefined)];
  expect(() => open("sample:brokn")).toThrow(/sample:broken/);
  expect(() => open("/nowhere/day.csv")).toThrow(/no such file/);
  expect(() => open("sample:broken", "sample:measured")).toThrow(/day-order/);
  expect(open("sample:measured", "sample:overcast")).toHaveLength(2);
});
