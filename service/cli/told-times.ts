/** Advice of a running service, as text of at most 80 columns. */
import type { z } from "zod";
import { hangingLines } from "../hanging-text.ts";
import { guidanceSchema } from "../view-schemas-guidance.ts";
import { watts } from "./quantity-text.ts";

type Advice = z.output<typeof guidanceSchema>;
type ApplianceTimes = Advice["appliances"][number];
type DayTimes = ApplianceTimes["days"][number];

/** @throws ZodError for an answer that is none of ours. */
export function tellTimes(answer: unknown): string {
  const advice = guidanceSchema.parse(answer);
  const { site, at, refusal, appliances } = advice;
  const lines = [`${site.label}, ${at}`];
  if (refusal !== null) {
    return [...lines, ...hangingLines("", `No advice: ${refusal.sentence}.`, 2)].join("\n");
  }
  if (appliances.length === 0) {
    const text = "No appliance is described: they stand under guidance in the settings file.";
    return [...lines, ...hangingLines("", text, 2)].join("\n");
  }
  for (const appliance of appliances) lines.push("", ...tellAppliance(appliance));
  return lines.join("\n");
}

function tellAppliance(appliance: ApplianceTimes): string[] {
  const { label, energyWh, powerMaxW, runS, sentence, confidence, now, days } = appliance;
  const run = `${kilowattHours(energyWh)} in ${minutes(runS)}, up to ${watts(powerMaxW)}`;
  const lines = hangingLines("", `${label} (${run}): ${sentence}.`, 2);
  if (confidence !== null) {
    lines.push(...hangingLines("  ", `confidence ${confidence.sentence}`, 4));
  }
  lines.push(...hangingLines("  ", `now: ${now.sentence}`, 4));
  for (const day of days) lines.push(...tellDay(day));
  return lines;
}

function tellDay({ date, stretches, best }: DayTimes): string[] {
  const parts = stretches.map(
    ({ fromLocal, toLocal, grade }) => `${fromLocal}-${toLocal} ${grade}`,
  );
  const ending = best === null ? "none is good" : `best at ${best.local}`;
  return hangingLines(`  ${date}  `, `${parts.join(", ")}; ${ending}`);
}

function kilowattHours(energyWh: number): string {
  return `${(energyWh / 1000).toFixed(2)} kWh`;
}

function minutes(seconds: number): string {
  const whole = Math.round(seconds / 60);
  return whole < 120 ? `${String(whole)} min` : `${(whole / 60).toFixed(1)} h`;
}
