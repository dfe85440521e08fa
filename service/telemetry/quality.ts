/** How far a value may be trusted. Plain data in, plain data out. */
import type { SignalSettings } from "../../config/site-settings.ts";
import type { Quality } from "../control/observation.ts";
import type { SignalValue } from "./payload.ts";

/** What is known of one signal. */
export interface Slot {
  /** Last good value; null: none yet. */
  readonly value: SignalValue | null;
  /** Arrival of that value. [ms] */
  readonly atMs: number;
  /** It came from the broker's memory, not from the publisher. */
  readonly isRetained: boolean;
  /** The newest live message was outside the plausible range. */
  readonly isImplausible: boolean;
  /** The connection was lost since: a signal that speaks on change only may have changed. */
  readonly isCut: boolean;
}

export const EMPTY_SLOT: Slot = {
  value: null,
  atMs: Number.NEGATIVE_INFINITY,
  isRetained: false,
  isImplausible: false,
  isCut: false,
};

export function isInRange(
  value: SignalValue,
  range: { readonly min: number; readonly max: number },
): boolean {
  return typeof value !== "number" || (value >= range.min && value <= range.max);
}

/**
 * The slot after a good value.
 *
 * A retained message may be days old, so it never takes the place of a live value, and never makes
 * a reading fresh; it only fills a slot that had nothing live, for a person to see.
 */
export function withValue(
  slot: Slot,
  arrival: { readonly value: SignalValue; readonly atMs: number; readonly isRetained: boolean },
): Slot {
  const hasLive = slot.value !== null && !slot.isRetained;
  if (arrival.isRetained && hasLive) return slot;
  return { ...arrival, isImplausible: arrival.isRetained && slot.isImplausible, isCut: false };
}

/** The slot after a live value outside its range: the last good one stays. */
export function withImplausible(slot: Slot): Slot {
  return { ...slot, isImplausible: true };
}

/** The slot after the connection was lost. */
export function withCut(slot: Slot, signal: SignalSettings): Slot {
  return signal.staleMs === null && slot.value !== null ? { ...slot, isCut: true } : slot;
}

export function qualityOf(slot: Slot, signal: SignalSettings, nowMs: number): Quality {
  if (slot.isImplausible) return "implausible";
  if (slot.value === null) return "waiting";
  if (slot.isRetained) return "retained";
  if (slot.isCut) return "stale";
  if (signal.staleMs !== null && nowMs - slot.atMs > signal.staleMs) return "stale";
  return "fresh";
}
