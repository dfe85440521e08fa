import { describe, expect, it } from "vitest";
import type { SiteVerdict, Verdict } from "../../service/control/decision.ts";
import {
  explainFinding,
  explainSite,
  explainVerdict,
  formatQuantity,
} from "../../service/control/explain.ts";
import { codeEntry } from "../../service/control/events.ts";
import { SITE_CODES } from "../../service/control/site-codes.ts";
import { VERDICT_CODES } from "../../service/control/verdict-codes.ts";
import type { QuantityKind } from "../../service/control/code-entry.ts";
import type { SiteCode } from "../../service/control/site-codes.ts";
import type { VerdictCode } from "../../service/control/verdict-codes.ts";
import { HOUR_MS, MINUTE_MS } from "./given.ts";

/** `Object.keys` gives plain strings; a test may narrow them. */
const SITE_CODE_LIST = Object.keys(SITE_CODES) as SiteCode[];
const VERDICT_CODE_LIST = Object.keys(VERDICT_CODES) as VerdictCode[];
const ALL_CODES = [...SITE_CODE_LIST, ...VERDICT_CODE_LIST];

const COLUMNS = 80;
/** The longest load id of the two example sites. */
const LOAD_ID = "water-heater";

/** As long as each kind is written on a site of some kilowatts. */
const LONG_FIGURES: Readonly<Record<QuantityKind, number>> = {
  fraction: 1,
  powerW: 7355,
  apparentPowerVA: 7355,
  currentA: 123.4,
  voltageV: 56.45,
  temperatureC: 68.5,
  flowLPerMin: 123.4,
  frequencyHz: 53.25,
  count: 12,
  minutes: 1440,
  energyWh: 12_345,
};
const LONG_MS = 119 * MINUTE_MS;

const quietSite: SiteVerdict = {
  socSource: "monitor",
  socFraction: 0.957,
  chargeStage: "bulk",
  ruleCurveFraction: 0.94,
  outlook: null,
  bandFraction: 0.017,
  batteryPowerW: 1234,
  sourcesPowerW: 2000,
  basePowerW: 700,
  claimW: 0,
  availableW: 1234,
  potentialLowW: null,
  potentialW: null,
  potentialHighW: null,
  hiddenLowW: 0,
  hiddenStartW: 0,
  lendableWh: 300,
  inverterHeadroomW: 7000,
  isDaylight: true,
  isFullChargeDue: false,
  isCurtailed: false,
  restVoltageV: 53.1,
  findings: [],
};

function verdict(code: VerdictCode, over: Partial<Verdict> = {}): Verdict {
  return { code, stage: 0, measured: null, limit: null, remainingMs: null, ...over };
}

function longFigures(code: VerdictCode | SiteCode) {
  const { measured, limit } = codeEntry(code);
  return {
    measured: measured === null ? null : LONG_FIGURES[measured],
    limit: limit === null ? null : LONG_FIGURES[limit],
  };
}

/** The sentence of a code with every figure that it has, as it is shown beside its owner. */
function longest(code: VerdictCode | SiteCode): { readonly line: string; readonly said: string } {
  const site = SITE_CODE_LIST.find((siteCode) => siteCode === code);
  if (site !== undefined) {
    const said = explainFinding({ code: site, ...longFigures(site) });
    return { line: `site: ${said}`, said };
  }
  const ofLoad = VERDICT_CODE_LIST.find((loadCode) => loadCode === code) ?? "running";
  const figures = { ...longFigures(ofLoad), remainingMs: LONG_MS };
  const said = explainVerdict(verdict(ofLoad, figures), quietSite);
  return { line: `${LOAD_ID}: ${said}`, said };
}

const count = (text: string, part: string) => text.split(part).length - 1;

describe("the dictionary of verdicts", () => {
  it("has no code twice", () => {
    expect(new Set(ALL_CODES).size).toBe(ALL_CODES.length);
    expect(ALL_CODES.length).toBeGreaterThan(50);
  });

  it.each(ALL_CODES)("%s: its sentence uses the numbers that it has, once each", (code) => {
    const { sentence, measured, limit } = codeEntry(code);
    expect(count(sentence, "{measured}")).toBe(measured === null ? 0 : 1);
    expect(count(sentence, "{limit}")).toBe(limit === null ? 0 : 1);
    expect(count(sentence, "{remaining}")).toBeLessThanOrEqual(1);
    expect(sentence.replaceAll(/\{(?:measured|limit|remaining)\}/gu, "")).not.toMatch(/[{}]/u);
    expect(sentence).not.toMatch(/\.$/u);
  });

  it.each(ALL_CODES)("%s: with its figures nothing is left open", (code) => {
    const { said } = longest(code);
    expect(said).not.toMatch(/[{}]/u);
    // One sentence asks a question of its own: "welded?".
    expect(count(said, "?")).toBe(count(codeEntry(code).sentence, "?"));
  });

  it.each(ALL_CODES)("%s: beside a load's id it fits a terminal", (code) => {
    expect(longest(code).line.length).toBeLessThanOrEqual(COLUMNS);
  });

  it.each(SITE_CODE_LIST.filter((code) => SITE_CODES[code].isInterlock))(
    "%s: named by a load that it holds off, it fits a terminal",
    (code) => {
      const site = { ...quietSite, findings: [{ code, ...longFigures(code) }] };
      const said = explainVerdict(verdict("site-interlock"), site);
      expect(said).toBe(`off: ${explainFinding({ code, ...longFigures(code) })}`);
      expect(`${LOAD_ID}: ${said}`.length).toBeLessThanOrEqual(COLUMNS);
    },
  );
});

describe("a verdict as a sentence", () => {
  it.each<[VerdictCode, Partial<Verdict>, string]>([
    ["running", { measured: 0.957, limit: 0.92 }, "on: battery at 95.7 %, stops under 92.0 %"],
    [
      "waiting-power",
      { measured: 812.4, limit: 2173.9 },
      "waits: 812 W to spare, it needs 2.17 kW",
    ],
    [
      "waiting-starts",
      { measured: 4, limit: 4, remainingMs: 14.2 * MINUTE_MS },
      "waits 15 min: 4 starts within the hour, 4 allowed",
    ],
    ["waiting-rest", { remainingMs: 119_001 }, "rests for 2 min more"],
    ["waiting-rest", { remainingMs: 119_000 }, "rests for 119 s more"],
    ["waiting-rest", { remainingMs: 2.5 * HOUR_MS }, "rests for 2.5 h more"],
    [
      "quota-energy-met",
      { measured: 4012, limit: 4000 },
      "off: 4.01 kWh today, its quota is 4.00 kWh",
    ],
    ["quota-run-met", { measured: 30, limit: 30 }, "off: 30 min today, its quota is 30 min"],
    ["tank-hot", { measured: 75.04, limit: 75 }, "off: the tank is at 75.0 °C, limit 75.0 °C"],
    ["unconfirmed", { measured: 1, limit: 3 }, "off: its start was not confirmed (1 of 3 tries)"],
    ["stopped-power", { measured: 640, limit: 100 }, "stopped: 640 W were missing, 100 W allowed"],
  ])("%s %j", (code, figures, sentence) => {
    expect(explainVerdict(verdict(code, figures), quietSite)).toBe(sentence);
  });

  it("has a question mark where a figure is not known, and a while where a time is not", () => {
    expect(explainVerdict(verdict("waiting-rest"), quietSite)).toBe("rests for a while more");
    expect(explainVerdict(verdict("running", { limit: 0.9 }), quietSite)).toBe(
      "on: battery at ?, stops under 90.0 %",
    );
  });

  it("names the first thing that holds the site off, past what is only said", () => {
    const site: SiteVerdict = {
      ...quietSite,
      findings: [
        { code: "soc-from-count", measured: null, limit: null },
        { code: "voltage-low", measured: 47.312, limit: 48 },
        { code: "inverter-fault", measured: null, limit: null },
      ],
    };
    expect(explainVerdict(verdict("site-interlock"), site)).toBe(
      "off: battery at 47.31 V is under 48.00 V",
    );
    expect(explainVerdict(verdict("site-interlock"), quietSite)).toBe(
      "off: the whole site is held off",
    );
  });
});

describe("a number with its unit", () => {
  it.each<[number, QuantityKind, string]>([
    [0.9996, "fraction", "100.0 %"],
    [999.4, "powerW", "999 W"],
    [1000, "powerW", "1.00 kW"],
    [999, "apparentPowerVA", "999 VA"],
    [1000, "apparentPowerVA", "1.00 kVA"],
    [12.34, "currentA", "12.3 A"],
    [-1000, "powerW", "-1.00 kW"],
    [-12.4, "powerW", "-12 W"],
    [54.006, "voltageV", "54.01 V"],
    [-5.04, "temperatureC", "-5.0 °C"],
    [49.996, "frequencyHz", "50.00 Hz"],
    [750, "energyWh", "0.75 kWh"],
    [59.6, "minutes", "60 min"],
    [3, "count", "3"],
  ])("%d as %s is %s", (value, kind, written) => {
    expect(formatQuantity(value, kind)).toBe(written);
  });
});

describe("the site in one line", () => {
  it.each<[string, Partial<SiteVerdict>, string]>([
    ["charging", {}, "battery 95.7 %, rule curve 94.0 %, bulk, takes 1.23 kW"],
    [
      "held back at its set-point",
      { chargeStage: "absorption", isCurtailed: true, batteryPowerW: 220 },
      "battery 95.7 %, rule curve 94.0 %, absorption, takes 220 W, arrays held back",
    ],
    [
      "held back by a power that is known",
      { chargeStage: "absorption", isCurtailed: true, hiddenLowW: 1930, batteryPowerW: 220 },
      "battery 95.7 %, rule curve 94.0 %, absorption, takes 220 W, arrays held back by 1.93 kW or more",
    ],
    [
      "discharging",
      { batteryPowerW: -431 },
      "battery 95.7 %, rule curve 94.0 %, bulk, gives 431 W",
    ],
    [
      "in voltage mode",
      { socSource: "voltage", socFraction: null, batteryPowerW: null },
      "battery 53.10 V at rest, bulk",
    ],
    [
      "without a voltage",
      { socSource: "voltage", socFraction: null, restVoltageV: null, batteryPowerW: null },
      "state of charge not known, bulk",
    ],
    [
      "with nothing known",
      { socSource: "none", socFraction: null, chargeStage: null, batteryPowerW: null },
      "state of charge not known",
    ],
  ])("%s", (_name, over, sentence) => {
    expect(explainSite({ ...quietSite, ...over })).toBe(sentence);
  });
});
