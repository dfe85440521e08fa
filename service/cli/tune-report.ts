/** What `bywash tune` found, as text of at most 80 columns, and as JSON. */
import { readFileSync } from "node:fs";
import { z } from "zod";
import { editedLines } from "../../config/edited-text.ts";
import type { SiteSettings } from "../../config/site-settings.ts";
import type { Figures } from "../../simulator/tune/front.ts";
import type { Tuned } from "../../simulator/tune/tune.ts";
import type { Varied } from "../../simulator/tune/vary.ts";
import { hangingLines } from "../hanging-text.ts";

const figure = z.number();
const figures = z.strictObject({
  usefulDivertedWh: figure,
  reserveDrawnWh: figure,
  misses: figure.describe("days of reserve, sunset and full charge that need not have been missed"),
  starts: figure,
});
const both = {
  tuned: figures.describe("on the days that were tuned on"),
  heldOut: figures.describe("on the last quarter of the days"),
};

const tuneSchema = z.strictObject({
  formatVersion: z.literal(1),
  site: z.string(),
  seed: figure,
  vary: z.array(z.strictObject({ key: z.string(), values: z.array(z.string()) })),
  daysTuned: figure,
  daysHeldOut: figure,
  tried: figure,
  leftOut: figure.describe("combinations that the settings refuse"),
  now: z.strictObject(both),
  front: z.array(z.strictObject({ set: z.array(z.string()), ...both })),
  chosen: figure.nullable().describe("place in the front; null: nothing is better than now"),
});

/** What `tune --json` prints, as a JSON Schema (draft 2020-12). */
export function tuneJsonSchema(): Readonly<Record<string, unknown>> {
  return z.toJSONSchema(tuneSchema, { target: "draft-2020-12" });
}

export interface TuneAbout {
  readonly site: SiteSettings;
  readonly seed: number;
  readonly varied: readonly Varied[];
  readonly leftOut: number;
}

export function tuneJson(tuned: Tuned, about: TuneAbout): string {
  const { daysTuned, daysHeldOut, tried, now, front, chosen } = tuned;
  const result: z.infer<typeof tuneSchema> = {
    formatVersion: 1,
    site: about.site.id,
    seed: about.seed,
    vary: about.varied.map(({ key, values }) => ({ key, values: [...values] })),
    daysTuned,
    daysHeldOut,
    tried,
    leftOut: about.leftOut,
    now,
    front: front.map((one) => ({ ...one, set: [...one.set] })),
    chosen,
  };
  return JSON.stringify(result, null, 2);
}

export function tuneText(tuned: Tuned, about: TuneAbout & { readonly path: string }): string {
  const { front, now, chosen } = tuned;
  const lines = front.flatMap((one, place) => [
    "",
    `${place === chosen ? "* " : "  "}${String(place + 1)}  ${one.set[0] ?? ""}`,
    ...one.set.slice(1).map((set) => `     ${set}`),
    `     ${sentence(one.tuned)}`,
    `     held out: ${sentence(one.heldOut)}`,
  ]);
  return [
    ...hangingLines("", headline(tuned, about), 2),
    "",
    `  now: ${sentence(now.tuned)}`,
    `       held out: ${sentence(now.heldOut)}`,
    ...lines,
    "",
    ...advice(tuned, about.path),
  ].join("\n");
}

function headline({ tried, daysTuned, daysHeldOut }: Tuned, { site, leftOut }: TuneAbout): string {
  const refused = leftOut === 0 ? "" : `, ${String(leftOut)} more refused by the settings' checks`;
  return (
    `${site.label}: ${String(tried)} combinations tried on ${String(daysTuned)} days` +
    `${refused}; the last ${String(daysHeldOut)} held out`
  );
}

function sentence({ usefulDivertedWh, reserveDrawnWh, misses, starts }: Figures): string {
  const kWh = (energyWh: number): string => (energyWh / 1000).toFixed(1);
  return (
    `${kWh(usefulDivertedWh)} kWh useful, ${kWh(reserveDrawnWh)} from the reserve, ` +
    `${String(misses)} missed, ${String(starts)} starts`
  );
}

/** The lines to change, with the owner's own comments; nothing is written. */
function advice({ front, chosen, daysTuned, daysHeldOut }: Tuned, path: string): readonly string[] {
  const best = chosen === null ? undefined : front[chosen];
  if (best === undefined) {
    return hangingLines(
      "",
      "None gives more than now on both kinds of days without more from the reserve: " +
        "stay with the settings, or choose by what matters to you.",
    );
  }
  const edits = editedLines(readFileSync(path, "utf8"), best.set);
  if (edits === null) {
    return ["To take the one marked *, add to the settings:", ...best.set.map((set) => `  ${set}`)];
  }
  return [
    "To take the one marked *, change these lines; nothing has been changed yet:",
    `--- ${path}`,
    `+++ ${path}, tuned on ${String(daysTuned)} days, shown on ${String(daysHeldOut)} others`,
    ...edits.flatMap(({ line, before, after }) => [
      `@@ line ${String(line)} @@`,
      `-${before}`,
      `+${after}`,
    ]),
  ];
}
