/**
 * The record of good times as a run before has left it. What is not as it should be is left out;
 * of versions that kept none there is none.
 */
import { fieldOf, isBounded, listOf, numberOf, truthOf } from "../saved-fields.ts";
import type { SeenStep } from "./came-true.ts";
import { SAID_MAX } from "./say-times.ts";
import { KINDS } from "./time-kinds.ts";
import { LOOKS_MAX, NO_TIMES, SEEN_MAX, shareLeftAfter } from "./times-record.ts";
import type { DaysKept, SaidTime, StepSum, TimesRecord } from "./times-record.ts";

/** More than there can be of a kind when something is said on each day. */
const DAYS_MAX = 1 + 1 / (1 - shareLeftAfter(1));
/** No site of ours has as much; more is a mistake. [W] */
const POWER_MAX_W = 1e6;

/** @param saved - Whatever was in the file: nothing about it is taken for granted. */
export function restoredTimes(saved: unknown): TimesRecord {
  const fadedOnDay = numberOf(saved, "fadedOnDay");
  const days = listOf(saved, "days").map(daysAgain);
  if (days.length !== KINDS.length || days.includes(null)) return NO_TIMES;
  return {
    look: null,
    step: stepAgain(fieldOf(saved, "step")),
    seen: rising(listOf(saved, "seen").flatMap(seenAgain)).slice(-SEEN_MAX),
    said: listOf(saved, "said").flatMap(saidAgain).slice(0, SAID_MAX),
    saidHour: numberOf(saved, "saidHour"),
    days: days.filter((one) => one !== null),
    fadedOnDay,
  };
}

function daysAgain(saved: unknown): DaysKept | null {
  const said = numberOf(saved, "said");
  const kept = numberOf(saved, "kept");
  const isSound = said !== null && kept !== null && kept >= 0 && kept <= said && said <= DAYS_MAX;
  return isSound ? { said, kept } : null;
}

function stepAgain(saved: unknown): StepSum | null {
  const looks = numberOf(saved, "looks");
  const [sound] = seenAgain(saved);
  const isSound = sound !== undefined && looks !== null && looks >= 1 && looks <= LOOKS_MAX;
  if (!isSound) return null;
  const { atMs, netW, socFraction, hasFuel } = sound;
  return { atMs, looks, netW, socFraction, hasFuel };
}

function seenAgain(saved: unknown): SeenStep[] {
  const atMs = numberOf(saved, "atMs");
  const netW = numberOf(saved, "netW");
  const socFraction = numberOf(saved, "socFraction");
  if (atMs === null || netW === null || socFraction === null) return [];
  const isSound = Math.abs(netW) <= POWER_MAX_W && socFraction >= 0 && socFraction <= 1;
  const hasFuel = truthOf(saved, "hasFuel", false);
  return isSound ? [{ atMs, netW, socFraction, hasFuel }] : [];
}

/** What goes back in time was written by a clock that went wrong. */
function rising(seen: readonly SeenStep[]): SeenStep[] {
  const kept: SeenStep[] = [];
  for (const step of seen) if (step.atMs > (kept.at(-1)?.atMs ?? -Infinity)) kept.push(step);
  return kept;
}

function saidAgain(saved: unknown): SaidTime[] {
  const kind = numberOf(saved, "kind");
  const startMs = numberOf(saved, "startMs");
  const sunsetMs = numberOf(saved, "sunsetMs");
  const stepW = listOf(saved, "stepW");
  if (kind === null || startMs === null || sunsetMs === null) return [];
  const isSound = KINDS[kind] !== undefined && startMs < sunsetMs && stepW.every(isPower);
  return isSound ? [{ kind, startMs, sunsetMs, stepW: stepW.filter(isPower) }] : [];
}

function isPower(value: unknown): value is number {
  return isBounded(value) && value >= 0 && value <= POWER_MAX_W;
}
