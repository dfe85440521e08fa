/** Rules about the inverter's ratings, legs and limits, and about the balance of powers. */
import { errorAt, warningAt } from "./findings.ts";
import type { Finding } from "./findings.ts";
import type { PartialFile } from "./partial-file.ts";
import { formatQuantity } from "./quantities.ts";
import type { InverterSection } from "./schema.ts";
import { mayBeMapped } from "./signal-names.ts";
import { missingForBalance } from "./to-balance.ts";
import { toBattery } from "./to-battery.ts";

/** Makers round the rating of a leg: three of 2.66 kVA are sold as 8 kVA. [1] */
const LEG_ROUNDING = 0.02;

export function inverterChecks(file: PartialFile): readonly Finding[] {
  const { inverter } = file;
  if (inverter === undefined) return balanceFindings(file);
  return [
    ...ratingFindings(inverter),
    ...legsFindings(file, inverter),
    ...limitFindings(file, inverter),
    ...deratingFindings(file, inverter),
    ...balanceFindings(file),
  ];
}

function ratingFindings(inverter: InverterSection): readonly Finding[] {
  const { continuous, apparentPower, surge } = inverter;
  const findings: Finding[] = [];
  const shown = formatQuantity(continuous, "power");
  if (apparentPower !== undefined && apparentPower < continuous) {
    findings.push(
      errorAt(["inverter", "apparentPower"], "apparent-under-continuous", {
        expected: `at least the continuous rating, ${shown}: VA are never fewer than W`,
      }),
    );
  }
  if (surge < continuous) {
    findings.push(
      errorAt(["inverter", "surge"], "surge-under-continuous", {
        expected: `at least the continuous rating, ${shown}`,
      }),
    );
  } else if (apparentPower !== undefined && surge < apparentPower) {
    findings.push(
      errorAt(["inverter", "surge"], "surge-under-continuous", {
        expected: `at least apparentPower, ${formatQuantity(apparentPower, "apparentPower")}`,
      }),
    );
  }
  return findings;
}

function legsFindings(file: PartialFile, inverter: InverterSection): readonly Finding[] {
  const { legs } = inverter;
  if (legs.length === 0) return [];
  if (legs.length === 1) {
    return [
      errorAt(["inverter", "legs"], "single-leg", {
        found: "one leg",
        expected: "two or three legs; with one, the inverter's own rating says all",
        suggestion: "take legs out",
      }),
    ];
  }
  const wholeVA = inverter.apparentPower ?? inverter.continuous;
  const sumVA = legs.reduce((sum, leg) => sum + leg.continuous, 0);
  const va = (powerVA: number): string => formatQuantity(powerVA, "apparentPower");
  const findings = legs.flatMap((leg, index) => {
    const path = ["inverter", "legs", index];
    const found: Finding[] = [];
    if (legs.findIndex(({ id }) => id === leg.id) < index) {
      const expected = "a name that no other leg has";
      found.push(errorAt([...path, "id"], "duplicate-id", { expected }));
    }
    if (leg.continuous > wholeVA) {
      const expected = `no more than the whole inverter, ${va(wholeVA)}`;
      found.push(errorAt([...path, "continuous"], "leg-over-whole", { expected }));
    }
    if (!mayBeMapped(file, `leg.${leg.id}.power`)) {
      found.push(
        errorAt([...path, "id"], "leg-not-measured", {
          expected: `a leg whose power arrives: map telemetry leg.${leg.id}.power`,
        }),
      );
    }
    return found;
  });
  if (sumVA >= wholeVA * (1 - LEG_ROUNDING)) return findings;
  return [
    ...findings,
    errorAt(["inverter", "legs"], "legs-under-whole", {
      found: `legs that carry ${va(sumVA)} together`,
      expected: `the whole inverter's ${va(wholeVA)}: what no leg carries nobody can use`,
    }),
  ];
}

function limitFindings(file: PartialFile, inverter: InverterSection): readonly Finding[] {
  const { acVoltage, frequency, maxInput } = inverter;
  const findings: Finding[] = [];
  for (const [key, limits] of Object.entries({ acVoltage, frequency })) {
    if (limits === undefined || limits.min < limits.max) continue;
    findings.push(errorAt(["inverter", key, "max"], "limits-crossed", { expected: "above min" }));
  }
  if (maxInput === undefined || file.battery === undefined) return findings;
  const { absorptionVoltageV, highVoltageV } = toBattery(file.battery, inverter);
  const lowestV = Math.max(absorptionVoltageV, highVoltageV ?? 0);
  if (maxInput > lowestV) return findings;
  return [
    ...findings,
    errorAt(["inverter", "maxInput"], "voltages-not-rising", {
      expected:
        "above every voltage that the battery is charged to or held at; " +
        `its highVoltage is ${formatQuantity(lowestV, "voltage")}`,
    }),
  ];
}

function deratingFindings(file: PartialFile, inverter: InverterSection): readonly Finding[] {
  const { derating, altitudeDerating } = inverter;
  const findings: Finding[] = [];
  if (derating !== undefined && !mayBeMapped(file, "inverter.temperature")) {
    findings.push(
      errorAt(["inverter", "derating"], "derating-not-measured", {
        expected: "a temperature to go by: map telemetry inverter.temperature",
      }),
    );
  }
  if (derating !== undefined && inverter.temperatureMax !== undefined) {
    if (derating.above >= inverter.temperatureMax) {
      const limit = formatQuantity(inverter.temperatureMax, "temperature");
      findings.push(
        errorAt(["inverter", "derating", "above"], "limits-crossed", {
          expected: `under temperatureMax, ${limit}, where the loads are off already`,
        }),
      );
    }
  }
  const elevation = file.site?.elevation;
  if (altitudeDerating === undefined || elevation === undefined) return findings;
  if (elevation > altitudeDerating.above) return findings;
  return [
    ...findings,
    warningAt(["inverter", "altitudeDerating"], "limit-not-watched", {
      expected:
        `has no effect: site.elevation is ${formatQuantity(elevation, "length")}, ` +
        `not above ${formatQuantity(altitudeDerating.above, "length")}`,
    }),
  ];
}

/** Whoever asks for the comparison is to get it, or to know why not. */
function balanceFindings(file: PartialFile): readonly Finding[] {
  if (file.balance?.mode !== "watch") return [];
  const missing = missingForBalance({ ...file, isMapped: (name) => mayBeMapped(file, name) });
  if (missing.length === 0) return [];
  return [
    errorAt(["balance", "mode"], "balance-not-measured", {
      expected: `something to add up: map telemetry ${missing.join(", ")}`,
      suggestion: "mode: ignore",
    }),
  ];
}
