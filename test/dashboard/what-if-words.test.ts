import { describe, expect, test } from "vitest";
import {
  choicesOf,
  isAnswerable,
  percentIn,
  percentText,
} from "../../service/dashboard/days/what-if/choices.ts";
import { differenceSentence } from "../../service/dashboard/days/what-if/words.ts";
import { createFormat } from "../../service/dashboard/format.ts";
import { unitsOfLocale } from "../../service/dashboard/units/choice.ts";
import type { ReplayedDay, ReplayedFigures, WhatIfResult } from "../../service/what-if-contract.ts";

const format = createFormat({ locale: "en-GB", timeZone: "UTC", units: unitsOfLocale("en-GB") });

/** Only what the sentence is made of. */
function day(
  energies: Readonly<Record<string, number>>,
  figures: Partial<ReplayedFigures> = {},
): ReplayedDay {
  const divertedWh = Object.values(energies).reduce((sum, wh) => sum + wh, 0);
  return {
    minutes: [],
    sourcesPowerW: [],
    potentialW: [],
    basePowerW: [],
    socFraction: [],
    ruleCurveFraction: [],
    loads: {
      heater: { label: "the heater", powerW: [] },
      pump: { label: "the pump", powerW: [] },
    },
    energies: Object.fromEntries(
      Object.entries(energies).map(([id, energyWh]) => [id, { energyWh, starts: 1 }]),
    ),
    figures: {
      divertedWh,
      curtailedWh: 5_000,
      potentialWh: 20_000,
      unservedWh: 0,
      reserveDrawnWh: 0,
      starts: 4,
      lowestSocFraction: 0.8,
      endSocFraction: 0.95,
      ...figures,
    },
  };
}

const same = (wh: number) => ({ low: wh, likely: wh, high: wh });

function sentence(
  asSet: ReplayedDay,
  changed: ReplayedDay,
  more: Partial<WhatIfResult["more"]> = {},
): string {
  const result = {
    asSet,
    changed,
    more: { divertedWh: same(0), curtailedWh: same(0), ...more },
  };
  return differenceSentence(result, format, 0.6).replaceAll("\u00A0", " ");
}

describe("what a change would have come to", () => {
  test("more into one load, less thrown away, more starts", () => {
    const words = sentence(
      day({ heater: 2_000, pump: 1_000 }),
      day({ heater: 6_100, pump: 1_005 }, { starts: 6 }),
      { divertedWh: same(4_105), curtailedWh: same(-3_900) },
    );
    expect(words).toBe(
      "4.1 kWh more into the heater; 3.9 kWh less thrown away; " +
        "the battery’s reserve untouched; 2 starts more.",
    );
  });

  test("two loads, the greater difference first, with the range of what was hidden", () => {
    const words = sentence(
      day({ heater: 2_000, pump: 1_000 }),
      day({ heater: 1_500, pump: 2_000 }, { starts: 3, endSocFraction: 0.91 }),
      { divertedWh: { low: 300, likely: 500, high: 800 }, curtailedWh: same(-100) },
    );
    expect(words).toBe(
      "1 kWh more into the pump, 500 Wh less into the heater (all loads together 500 Wh more, " +
        "between 300 Wh more and 800 Wh more); as much thrown away; " +
        "the battery’s reserve untouched, at the end 4 % emptier; 1 start fewer.",
    );
  });

  test("what a switch a minute later makes is no difference", () => {
    const words = sentence(day({ heater: 2_000, pump: 1_000 }), day({ heater: 2_020, pump: 990 }));
    expect(words).toBe(
      "Hardly anything would have been different for the loads; as much thrown away; " +
        "the battery’s reserve untouched; as many starts.",
    );
  });

  test("a battery under its floor, and use gone without, are said", () => {
    const words = sentence(
      day({ heater: 2_000, pump: 1_000 }),
      day({ heater: 3_000, pump: 1_000 }, { lowestSocFraction: 0.55, unservedWh: 700 }),
      { divertedWh: same(1_000) },
    );
    expect(words).toContain("700 Wh of everyday use gone without");
    expect(words).toContain("the battery at 55 %, under its floor");
    expect(words).not.toContain("untouched");
  });
});

describe("what is offered to be changed", () => {
  const key = (name: string, value: string | null, fallback: string | null = null) => ({
    key: name,
    value,
    meaning: `meaning of ${name}`,
    fallback,
    range: null,
    isAdvanced: false,
  });
  const loads = [
    {
      id: "heater",
      label: "the heater",
      priority: 1,
      stagesW: [1_000],
      isModulating: false,
      startAboveFraction: 0.02,
      stopBelowFraction: 0.02,
    },
  ];

  test("heights by their default too, sizes only where they are given", () => {
    const keys = [
      key("loads.heater.start.aboveRuleCurve", "2 %"),
      key("loads.heater.stop.belowRuleCurve", null, "2 %"),
      key("loads.heater.tank.volume", null),
      key("arrays.roof.peak", "6.6 kW"),
      key("battery.capacity", "400 Ah"),
      key("web.port", "8470"),
    ];
    expect(choicesOf({ keys }, { loads }).map(({ key: of, kind }) => [of, kind])).toEqual([
      ["loads.heater.start.aboveRuleCurve", "above"],
      ["loads.heater.stop.belowRuleCurve", "below"],
      ["battery.capacity", "text"],
      ["arrays.roof.peak", "text"],
    ]);
  });

  test("a height that is written in another way is written, not dragged", () => {
    const keys = [key("loads.heater.start.aboveRuleCurve", "0.02")];
    expect(choicesOf({ keys }, { loads })[0]?.kind).toBe("text");
  });

  test("nothing that a recorded day cannot answer", () => {
    expect(
      ["web.port", "telemetry.battery.soc", "site.tick"].some((one) => isAnswerable({ key: one })),
    ).toBe(false);
    expect(isAnswerable({ key: "webcam" })).toBe(true);
  });

  test.each([
    ["2 %", 2],
    ["-1.5%", -1.5],
    [" 3 % ", 3],
    ["2", null],
    ["two %", null],
    [null, null],
  ])("%j as a percentage is %j", (text, percent) => {
    expect(percentIn(text)).toBe(percent);
  });

  test("a height is written in halves of a per cent, as a settings file has it", () => {
    expect([percentText(3.74), percentText(-0.2), percentText(4)]).toEqual(["3.5 %", "0 %", "4 %"]);
  });
});
