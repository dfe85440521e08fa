/**
 * How sure a kind of good time is by what came of such times before.
 *
 * The share that is likely to come true is the mean of a beta distribution: what is taken for
 * granted counts like `BEFORE_DAYS` days, and each day on record adds to it.
 *
 * @source A. Gelman et al., Bayesian Data Analysis (3rd ed. 2013), section 2.4, from memory: the
 * parameters of a beta prior read as earlier trials. Days that came true in part are ours.
 */
import { itemAt } from "../item-at.ts";
import type { ConfidenceLevel } from "./guidance-codes.ts";
import { KINDS } from "./time-kinds.ts";
import type { DaysKept, TimesRecord } from "./times-record.ts";

/** Ours, no source: a few days must not turn a word. */
const BEFORE_DAYS = 10;
/** Fewer days are not told of. */
const TOLD_FROM_DAYS = 10;
/** Nine in ten, and three in four; ours, no source. */
const HIGH_FROM = 0.9;
const FAIR_FROM = 0.75;

/** [1] 0…1 */
export function likelyShare({ said, kept }: DaysKept, keptBefore: number): number {
  return (BEFORE_DAYS * keptBefore + kept) / (BEFORE_DAYS + said);
}

/** What the record makes of a kind of time. */
export function trustedAs({ days }: Pick<TimesRecord, "days">, kind: number): ConfidenceLevel {
  const share = likelyShare(itemAt(days, kind), itemAt(KINDS, kind).keptBefore);
  if (share >= HIGH_FROM) return "high";
  return share >= FAIR_FROM ? "fair" : "low";
}

/** To be told beside the word; null: there are too few days yet. */
export function daysToTell({ days }: Pick<TimesRecord, "days">, kind: number): DaysKept | null {
  const { said, kept } = itemAt(days, kind);
  if (said < TOLD_FROM_DAYS) return null;
  const saidDays = Math.round(said);
  return { said: saidDays, kept: Math.min(saidDays, Math.round(kept)) };
}
