/** What a topic or a field of the settings may have been meant to be, by what was really heard. */
import { editDistance } from "../../config/suggestions.ts";

const NAMED_MAX = 3;
/** A name is near if this share of its letters at most has to change. Ours, no source */
const LETTERS_FRACTION = 0.34;
/** …or if this share of its levels at least is the same… Ours, no source */
const LEVELS_FRACTION = 0.6;
/** …or if its last level is: `house/battery` for `shed/battery`. */
const SAME_END_APART = 0.6;

/** Others are named beside the nearest if they are hardly further. Ours, no source */
const AS_NEAR = 0.15;

/** The nearest first; empty: none is near. */
export function nearestNames(wanted: string, heard: readonly string[]): readonly string[] {
  const near = heard
    .map((name) => ({ name, apart: apartness(wanted, name) }))
    .filter(({ apart }) => apart < 1)
    .sort((one, other) => one.apart - other.apart || (one.name < other.name ? -1 : 1));
  const nearest = near[0]?.apart ?? 0;
  return near
    .filter(({ apart }) => apart <= nearest + AS_NEAR)
    .slice(0, NAMED_MAX)
    .map(({ name }) => name);
}

/** From 0 (the same, but for capitals) to 1 (not near). */
function apartness(wanted: string, name: string): number {
  const length = Math.max(wanted.length, name.length);
  const letters = editDistance(wanted.toLowerCase(), name.toLowerCase()) / length;
  const same = sameLevels(wanted, name);
  const byLetters = letters <= LETTERS_FRACTION ? letters : 1;
  const byLevels = same >= LEVELS_FRACTION ? 1 - same : 1;
  const isSameEnd = levelsOf(wanted).at(-1) === levelsOf(name).at(-1);
  return Math.min(byLetters, byLevels, isSameEnd ? SAME_END_APART : 1);
}

/** Share of the levels that both have, in whatever place. */
function sameLevels(wanted: string, name: string): number {
  const [own, its] = [levelsOf(wanted), levelsOf(name)];
  const same = own.filter((level) => its.includes(level)).length;
  return same / Math.max(own.length, its.length);
}

function levelsOf(name: string): readonly string[] {
  return name
    .toLowerCase()
    .split("/")
    .filter((level) => level !== "");
}

/** A word from outside as it may be shown on a terminal: one line, bounded, nothing that acts. */
export function shown(text: string): string {
  const plain = text.replace(/\p{C}/gu, "·").trim();
  return plain.length > SHOWN_MAX ? `${plain.slice(0, SHOWN_MAX)}…` : plain;
}

const SHOWN_MAX = 60;
