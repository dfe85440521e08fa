/** Two replays of the same days beside one another. */
import type { OutcomeReport, Totals } from "../outcome.ts";
import { roundFigure } from "../rounding.ts";

type Figure = Exclude<keyof Totals, "boundShareFraction" | "regretWh">;

export interface Comparison {
  readonly formatVersion: 1;
  readonly first: OutcomeReport;
  readonly second: OutcomeReport;
  /** First less second. */
  readonly difference: Readonly<Record<Figure, number>>;
}

const FIGURES: readonly (readonly [Figure, string, "energy" | "percent" | "count"])[] = [
  ["potentialWh", "on offer", "energy"],
  ["curtailedWh", "thrown away", "energy"],
  ["divertedWh", "diverted", "energy"],
  ["usefulDivertedWh", "useful part of that", "energy"],
  ["reserveDrawnWh", "reserve drawn", "energy"],
  ["baseLoadWh", "everyday use", "energy"],
  ["unservedWh", "… without power", "energy"],
  ["batteryThroughputWh", "out of the battery", "energy"],
  ["generatorWh", "from the generator", "energy"],
  ["minSocPercent", "lowest charge", "percent"],
  ["endSocPercent", "charge at the end", "percent"],
  ["starts", "starts", "count"],
  ["reserveDays", "reserve days", "count"],
  ["sunsetMisses", "sunset misses", "count"],
  ["absorptionMisses", "absorption misses", "count"],
  ["reconstructedFraction", "reconstructed share", "count"],
];

export function comparison(first: OutcomeReport, second: OutcomeReport): Comparison {
  const lessSecond = (key: Figure): number => roundFigure(first.totals[key] - second.totals[key]);
  return {
    formatVersion: 1,
    first,
    second,
    difference: {
      divertedWh: lessSecond("divertedWh"),
      usefulDivertedWh: lessSecond("usefulDivertedWh"),
      curtailedWh: lessSecond("curtailedWh"),
      potentialWh: lessSecond("potentialWh"),
      baseLoadWh: lessSecond("baseLoadWh"),
      unservedWh: lessSecond("unservedWh"),
      batteryThroughputWh: lessSecond("batteryThroughputWh"),
      minSocPercent: lessSecond("minSocPercent"),
      endSocPercent: lessSecond("endSocPercent"),
      generatorWh: lessSecond("generatorWh"),
      reserveDrawnWh: lessSecond("reserveDrawnWh"),
      reserveDays: lessSecond("reserveDays"),
      sunsetMisses: lessSecond("sunsetMisses"),
      absorptionMisses: lessSecond("absorptionMisses"),
      starts: lessSecond("starts"),
      reconstructedFraction: lessSecond("reconstructedFraction"),
    },
  };
}

/** At most 80 columns; the settings' labels stand in a line each, whatever their length. */
export function comparisonText(
  { first, second, difference }: Comparison,
  [firstLabel, secondLabel]: readonly [string, string],
): string {
  const rows = FIGURES.map(([key, name, kind]) => [
    name,
    written(first.totals[key], kind),
    written(second.totals[key], kind),
    `${difference[key] > 0 ? "+" : ""}${written(difference[key], kind)}`,
  ]);
  const table = [["", "first", "second", "difference"], ...rows].map(([name = "", ...cells]) =>
    [name.padEnd(22), ...cells.map((cell) => cell.padStart(14))].join("").trimEnd(),
  );
  const days = `${String(first.days)} ${first.days === 1 ? "day" : "days"}`;
  return [
    `The same ${days} with two settings in a simulated shed`,
    `  first:  ${firstLabel}`.slice(0, 80),
    `  second: ${secondLabel} (--against)`.slice(0, 80),
    "",
    ...table,
  ].join("\n");
}

function written(value: number, kind: "energy" | "percent" | "count"): string {
  if (kind === "count") return String(value);
  if (kind === "percent") return `${value.toFixed(1)} %`;
  return Math.abs(value) < 1000 ? `${value.toFixed(0)} Wh` : `${(value / 1000).toFixed(2)} kWh`;
}
