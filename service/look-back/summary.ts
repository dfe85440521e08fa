/** One plain paragraph on what a week or a day came to. */
import type { LookBack } from "./report-schema.ts";
import { countText, dayName, energyText, percentText, spanText } from "./words.ts";

type Figures = Omit<LookBack, "summary">;

export function summaryOf(report: Figures): string {
  return [
    incompleteText(report),
    powerText(report),
    loadsText(report),
    chargeText(report),
    sunsetText(report),
    reserveText(report),
    alertText(report),
  ]
    .filter((sentence) => sentence !== "")
    .join(" ");
}

function incompleteText({ period, totals, gaps }: Figures): string {
  const { kind, isOver, isWhole } = period;
  if (isWhole) return "";
  const over = isOver ? "" : `This ${kind} is not over yet. `;
  const missing = gaps.reduce((sum, { minutes }) => sum + minutes, 0);
  const when = isOver ? "" : " so far";
  const gap = missing === 0 ? "" : `, ${spanText(missing)}${when} are missing`;
  return `${over}Only ${percentText(totals.coveredFraction)} of it was recorded${gap}.`;
}

function powerText({ totals, days }: Figures): string {
  const { potentialWh, thrownAwayWh, usedWh, daysWithoutPotential } = totals;
  if (potentialWh === null || thrownAwayWh === null) {
    return `The sources gave ${energyText(usedWh)}; what they could have given is not known.`;
  }
  const used = potentialWh - thrownAwayWh;
  const share = potentialWh > 0 ? ` (${percentText(used / potentialWh)})` : "";
  const unknown =
    daysWithoutPotential === 0
      ? ""
      : ` This leaves out ${String(daysWithoutPotential)} of ` +
        `${countText(days.length, "day", "days")}, of which that is not known.`;
  return (
    `The sources could have given ${energyText(potentialWh)}: ${energyText(used)} were ` +
    `used${share}, ${energyText(thrownAwayWh)} thrown away.${unknown}`
  );
}

function loadsText({ totals }: Figures): string {
  const { divertedWh, askedWh, starts, loads } = totals;
  if (divertedWh <= 0) return "The opportunity loads took nothing.";
  const [most] = Object.entries(loads).toSorted((a, b) => b[1].energyWh - a[1].energyWh);
  const name =
    most === undefined ? "" : `, most of it ${most[0]} (${energyText(most[1].energyWh)})`;
  const asked = askedWh > 0 ? `; ${energyText(askedWh)} because somebody asked for it` : "";
  const times = countText(starts, "start", "starts");
  return `The opportunity loads took ${energyText(divertedWh)} in ${times}${name}${asked}.`;
}

function chargeText({ totals, targets, days }: Figures): string {
  const lowest = totals.lowestSocFraction;
  if (lowest === null) return "The battery's charge was not known.";
  const day = days.find(({ lowestSocFraction }) => lowestSocFraction === lowest)?.date;
  const when = day === undefined || days.length === 1 ? "" : ` on ${dayName(day)}`;
  const side = lowest < targets.floorFraction ? "under" : "not under";
  return (
    `The battery was at ${percentText(lowest)} at the lowest${when}, ${side} its floor of ` +
    `${percentText(targets.floorFraction)}.`
  );
}

function sunsetText({ totals, targets, days }: Figures): string {
  const seen = days.filter(({ sunsetSocFraction }) => sunsetSocFraction !== null).length;
  if (seen === 0) return "";
  const misses = totals.sunsetMisses;
  const target = percentText(targets.sunsetTargetFraction);
  if (misses === 0) return `It reached its target of ${target} at every sunset.`;
  return `At ${String(misses)} of ${countText(seen, "sunset", "sunsets")} it was under ${target}.`;
}

function reserveText({ totals }: Figures): string {
  const { reserveDrawnWh } = totals;
  return reserveDrawnWh < 50
    ? "Loads drew nothing worth telling from the reserve."
    : `Loads drew ${energyText(reserveDrawnWh)} from the reserve.`;
}

function alertText({ alerts }: Figures): string {
  const count = alerts.reduce((sum, alert) => sum + alert.count, 0);
  return count === 0
    ? "No alarm was raised."
    : `${countText(count, "alarm was", "alarms were")} raised.`;
}
