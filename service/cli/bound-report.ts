/** The bound as text of at most 80 columns, and as JSON. */
import { z } from "zod";
import type { SiteSettings } from "../../config/site-settings.ts";
import type { Bound } from "../../simulator/bound/bound.ts";
import { roundFigures } from "../../simulator/rounding.ts";
import { hangingLines } from "../hanging-text.ts";

const figure = z.number();

const boundSchema = z.strictObject({
  formatVersion: z.literal(1),
  site: z.string(),
  days: figure,
  usefulDivertedWh: figure.describe("the best that any controller could have done"),
  gapWh: figure.describe("by how much the solver may be short of it"),
  status: z.literal("optimal"),
  sunsetMisses: figure.describe("sunsets under the target that nobody could have avoided"),
  loads: z.record(z.string(), z.strictObject({ usefulWh: figure })),
  perDay: z.array(z.strictObject({ date: z.iso.date(), usefulDivertedWh: figure })),
});

/** What `bound --json` prints, as a JSON Schema (draft 2020-12). */
export function boundJsonSchema(): Readonly<Record<string, unknown>> {
  return z.toJSONSchema(boundSchema, { target: "draft-2020-12" });
}

export function boundJson(site: SiteSettings, bound: Bound): string {
  const { loads, perDay, ...figures } = bound;
  const { usefulDivertedWh, gapWh, status, sunsetMisses } = figures;
  const report: z.infer<typeof boundSchema> = {
    formatVersion: 1,
    site: site.id,
    days: perDay.length,
    usefulDivertedWh,
    gapWh,
    status,
    sunsetMisses,
    loads: Object.fromEntries(Object.entries(loads).map(([id, usefulWh]) => [id, { usefulWh }])),
    perDay: [...perDay],
  };
  return JSON.stringify(roundFigures(report), null, 2);
}

const DAYS_SHOWN = 14;

export function boundText(site: SiteSettings, bound: Bound): string {
  const { perDay, loads } = bound;
  const days = `${String(perDay.length)} ${perDay.length === 1 ? "day" : "days"}`;
  const width = Math.max(...Object.keys(loads).map((id) => id.length));
  const isShort = perDay.length > 1 && perDay.length <= DAYS_SHOWN;
  return [
    ...hangingLines("", `${site.label}: the best that any controller could do on ${days}`, 2),
    "",
    ...(isShort ? perDay.map((day) => `${day.date}  ${energy(day.usefulDivertedWh)}`) : []),
    ...(isShort ? [""] : []),
    ...Object.entries(loads).map(([id, usefulWh]) => `${id.padEnd(width)}  ${energy(usefulWh)}`),
    `${"all".padEnd(width)}  ${energy(bound.usefulDivertedWh)}`,
    "",
    ...hangingLines("", closing(bound)),
  ].join("\n");
}

function closing({ sunsetMisses }: Bound): string {
  const missed =
    sunsetMisses === 0
      ? "Every sunset can reach its target."
      : `Sunsets that nobody could have brought to the target: ${String(sunsetMisses)}.`;
  return `Useful energy, with perfect foresight and the reserve kept. ${missed}`;
}

function energy(energyWh: number): string {
  return `${(energyWh / 1000).toFixed(1)} kWh`.padStart(10);
}
