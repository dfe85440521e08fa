/** The dictionary of advice on hand-started appliances, with the sentence for each. */
import type { QuantityKind } from "../code-entry.ts";

export interface AdviceEntry {
  readonly measured: QuantityKind | null;
  readonly limit: QuantityKind | null;
  /** `{measured}`, `{limit}` and `{time}` are filled in. No full stop at the end. */
  readonly sentence: string;
}

function entry(
  sentence: string,
  measured: QuantityKind | null = null,
  limit: QuantityKind | null = null,
): AdviceEntry {
  return { sentence, measured, limit };
}

/** What the light says of an appliance. */
export const ADVICE_CODES = {
  "good-now": entry("now is good: {measured} of it comes straight from the sources", "fraction"),
  "good-later": entry("better from {time} on"),
  "so-so-battery": entry(
    "now is so-so: the reserve holds, but only {measured} of it comes straight from the sources",
    "fraction",
  ),
  "so-so-unsure": entry(
    "now is so-so: it should do, but on the cautious side it would cost the night reserve " +
      "{measured}",
    "fraction",
  ),
  "so-so-short": entry(
    "now is so-so: on the cautious side the night reserve is short, with it or without",
  ),
  "so-so-later": entry("not now; from {time} on it is so-so"),
  costly: entry(
    "not today: it would cost the night reserve {measured}, on the cautious side {limit}",
    "fraction",
    "fraction",
  ),
  "hours-over": entry("not today any more: its hours are over"),
  "no-room": entry("not today: beside everyday use the inverter cannot carry it"),
} as const satisfies Record<string, AdviceEntry>;

export type AdviceCode = keyof typeof ADVICE_CODES;

/** Why there is no advice at all: in doubt none is given. */
export const REFUSAL_CODES = {
  "nothing-decided": entry("nothing has been decided yet"),
  "clock-implausible": entry("the clock cannot be right"),
  "site-held": entry("something is wrong with the site"),
  "soc-unknown": entry("the state of charge is not known"),
  "sources-unseen": entry("it is not known what the arrays give now"),
  "use-unknown": entry("it is not known yet what the site uses by the hour; that takes two days"),
  "no-sunset": entry("the sun does not rise and set here these days"),
} as const satisfies Record<string, AdviceEntry>;

export type RefusalCode = keyof typeof REFUSAL_CODES;

export type ConfidenceLevel = "high" | "fair" | "low";

interface ConfidenceEntry extends AdviceEntry {
  readonly level: ConfidenceLevel;
}

function confidence(
  level: ConfidenceLevel,
  why: string,
  measured: QuantityKind | null = null,
): ConfidenceEntry {
  return { level, sentence: `${level}: ${why}`, measured, limit: null };
}

/** From the least that can be said to the most: the first that applies is told. */
export const CONFIDENCE_CODES = {
  "no-record": confidence("low", "only {measured} days of sky are on record", "count"),
  "own-count": confidence("low", "the state of charge is doubtful"),
  unsure: confidence("low", "it holds in the middle of what is expected, not on the cautious side"),
  "seldom-true": confidence("low", "such times came true on less than three days in four"),
  "few-days": confidence("fair", "only {measured} days of sky are on record", "count"),
  "fixed-curve": confidence(
    "fair",
    "under a fixed rule curve what is said of the sky is not held against what comes",
  ),
  "less-often-true": confidence(
    "fair",
    "it holds even under a dull sky, but such times came true on less than nine days in ten",
  ),
  cautious: confidence("fair", "it holds on the cautious side, not on the dullest days"),
  "often-true": confidence(
    "high",
    "it holds on the cautious side, and such times came true on nine days in ten and more",
  ),
  doubtful: confidence("high", "it holds unless the sky is duller than on 19 days in 20"),
} as const satisfies Record<string, ConfidenceEntry>;

export type ConfidenceCode = keyof typeof CONFIDENCE_CODES;
