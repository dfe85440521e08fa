/** What of the settings is worth trying on a recorded day, and how it is written. */
import type { SettingsView } from "../../../settings-desk.ts";
import type { SiteView } from "../../../site-view.ts";

type Key = SettingsView["keys"][number];

/** `above`, `below`: a height over or under the rule curve, to be dragged. */
export type ChoiceKind = "above" | "below" | "text";

export interface Choice {
  readonly key: string;
  readonly name: string;
  readonly kind: ChoiceKind;
  /** As written in the file; null: not given there. */
  readonly value: string | null;
  /** What holds where it is not given, and what it may be. */
  readonly fallback: string | null;
  readonly range: string | null;
  readonly meaning: string;
}

/** As far as a step can be dragged over or under the curve. [%] */
export const HEIGHT_MAX_PERCENT = 20;

/** Nothing that a recorded day could not answer, or that is changed at the machine alone. */
const NOT_HERE = /^(version|site|web|broker|history|telemetry)\b/u;

export function isAnswerable({ key }: Pick<Key, "key">): boolean {
  return !NOT_HERE.test(key);
}

/** In the order in which a person would try them. */
export function choicesOf(
  { keys }: Pick<SettingsView, "keys">,
  { loads }: Pick<SiteView, "loads">,
): readonly Choice[] {
  const choice = (key: string, name: string, kind: ChoiceKind = "text"): readonly Choice[] => {
    const entry = keys.find((one) => one.key === key);
    if (entry === undefined || (kind === "text" && entry.value === null)) return [];
    const { value, fallback, range, meaning } = entry;
    const isHeight = kind !== "text" && percentIn(value ?? fallback) !== null;
    return [{ key, name, kind: isHeight ? kind : "text", value, fallback, range, meaning }];
  };
  const arrays = keys.flatMap(({ key }) => /^arrays[.]([^.]+)[.]peak$/u.exec(key)?.[1] ?? []);
  return [
    ...loads.flatMap(({ id, label }) => [
      ...choice(`loads.${id}.start.aboveRuleCurve`, `Start of ${label}`, "above"),
      ...choice(`loads.${id}.stop.belowRuleCurve`, `Stop of ${label}`, "below"),
    ]),
    ...choice("ruleCurve.at", "Rule curve"),
    ...choice("battery.capacity", "Size of the battery"),
    ...arrays.flatMap((id) => choice(`arrays.${id}.peak`, `Size of array ${id}`)),
    ...loads.flatMap(({ id, label }) =>
      choice(`loads.${id}.tank.volume`, `Size of the tank of ${label}`),
    ),
  ];
}

/** @returns null for what is no percentage. */
export function percentIn(text: string | null): number | null {
  const digits = /^(-?\d+(?:[.]\d+)?)\s*%$/u.exec(text?.trim() ?? "")?.[1];
  return digits === undefined ? null : Number(digits);
}

/** As a settings file has it, whatever the reader's locale. */
export function percentText(percent: number): string {
  return `${String(Math.round(percent * 2) / 2)} %`;
}
