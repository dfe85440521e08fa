/** What a change would have come to, in one sentence. */
import type { Guesses, WhatIfResult } from "../../../what-if-contract.ts";
import type { Format } from "../../format.ts";
import { asSentence } from "../../sentence.ts";

/** A switch that falls a minute earlier or later makes as much. [1] as in a replay's range */
const CHANCE = 0.01;
/** Of the battery, that a person would see. [1] */
const SOC_STEP = 0.01;

/** @param floorFraction - The battery's hard reserve. */
export function differenceSentence(
  result: Pick<WhatIfResult, "asSet" | "changed" | "more">,
  format: Pick<Format, "energy" | "share">,
  floorFraction: number,
): string {
  const { asSet, changed } = result;
  const parts = [
    ...loadParts(result, format),
    unusedPart(result, format),
    ...unservedPart(result, format),
    reservePart(result, format, floorFraction),
    startsPart(changed.figures.starts - asSet.figures.starts),
  ];
  return asSentence(parts.join("; "));
}

/** The loads that it matters to, the greatest difference first. */
function loadParts(
  { asSet, changed, more }: Pick<WhatIfResult, "asSet" | "changed" | "more">,
  format: Pick<Format, "energy">,
): readonly string[] {
  const leastWh = CHANCE * Math.max(asSet.figures.divertedWh, changed.figures.divertedWh);
  const differences = Object.entries(changed.energies)
    .map(([id, { energyWh }]) => ({
      label: changed.loads[id]?.label ?? id,
      moreWh: energyWh - (asSet.energies[id]?.energyWh ?? 0),
    }))
    .filter(({ moreWh }) => Math.abs(moreWh) > leastWh)
    .toSorted((a, b) => Math.abs(b.moreWh) - Math.abs(a.moreWh));
  if (differences.length === 0) return ["hardly anything would have been different for the loads"];
  const words = differences.map(
    ({ label, moreWh }) => `${comparedText(moreWh, format.energy)} into ${label}`,
  );
  const range = rangeText(more.divertedWh, leastWh, format);
  return [`${words.join(", ")}${range}`];
}

/** How much was hidden decides; where it hardly does, one figure says it all. */
function rangeText(
  { low, likely, high }: Guesses,
  leastWh: number,
  format: Pick<Format, "energy">,
): string {
  if (high - low <= leastWh) return "";
  const compared = (moreWh: number): string => comparedText(moreWh, format.energy);
  const range = `between ${compared(low)} and ${compared(high)}`;
  return ` (all loads together ${compared(likely)}, ${range})`;
}

function unusedPart(
  { more, asSet }: Pick<WhatIfResult, "asSet" | "more">,
  format: Pick<Format, "energy">,
): string {
  const { likely } = more.curtailedWh;
  if (Math.abs(likely) <= CHANCE * asSet.figures.potentialWh) return "as much thrown away";
  return `${comparedText(likely, format.energy)} thrown away`;
}

function unservedPart(
  { asSet, changed }: Pick<WhatIfResult, "asSet" | "changed">,
  format: Pick<Format, "energy">,
): readonly string[] {
  const moreWh = changed.figures.unservedWh - asSet.figures.unservedWh;
  return moreWh > 1 ? [`${format.energy(moreWh)} of everyday use gone without`] : [];
}

function reservePart(
  { asSet, changed }: Pick<WhatIfResult, "asSet" | "changed">,
  format: Pick<Format, "energy" | "share">,
  floorFraction: number,
): string {
  const { lowestSocFraction, endSocFraction } = changed.figures;
  if (lowestSocFraction < floorFraction) {
    return `the battery at ${format.share(lowestSocFraction)}, under its floor`;
  }
  const endMore = endSocFraction - asSet.figures.endSocFraction;
  const end =
    Math.abs(endMore) < SOC_STEP
      ? ""
      : `, at the end ${format.share(Math.abs(endMore))} ${endMore > 0 ? "fuller" : "emptier"}`;
  return `the battery’s reserve untouched${end}`;
}

function startsPart(more: number): string {
  if (more === 0) return "as many starts";
  const count = Math.abs(more);
  return `${String(count)} ${count === 1 ? "start" : "starts"} ${more > 0 ? "more" : "fewer"}`;
}

function comparedText(more: number, write: (value: number) => string): string {
  return `${write(Math.abs(more))} ${more < 0 ? "less" : "more"}`;
}
