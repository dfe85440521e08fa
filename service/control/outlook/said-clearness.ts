/**
 * Holds what was said of a day against what came of it. The cautious side is to be missed by the
 * share of days that the owner's caution allows, at this site and not on paper: each miss makes the
 * outlook a little more cautious, each day that was clearer a little less.
 *
 * @source I. Gibbs & E. Candès, "Adaptive conformal inference under distribution shift" (2021),
 * eq. 2, from memory: α(t+1) = α(t) + γ·(α − miss)
 */
import { itemAt } from "../item-at.ts";
import type { ClearDay } from "./clear-days.ts";
import { restOf } from "./rest-of-day.ts";
import { PARTS, withDay } from "./sky-record.ts";
import type { SkyDay, SkyRecord, SkyToday } from "./sky-record.ts";

/** It is said at each of these. [parts of the day] */
const SAID_AT_PARTS = [PARTS / 4, PARTS / 2, (3 * PARTS) / 4];
/** γ: how far one outcome moves the share. Ours, no source */
const STEP = 0.02;
const TAIL_MIN = 0.02;
const TAIL_MAX = 0.6;

/** Share of days that may turn out below the cautious side, for the owner's caution. [1] */
export function tailFractionOf({ tailShift }: SkyRecord, cautionFraction: number): number {
  return Math.min(TAIL_MAX, Math.max(TAIL_MIN, 1 - cautionFraction + tailShift));
}

/** Notes what is said now of the rest of the day, at a quarter, half and three quarters of it. */
export function sayClearness(
  today: SkyToday,
  { position, cautious }: { readonly position: number; readonly cautious: number },
): SkyToday {
  const { said } = today;
  const part = SAID_AT_PARTS[said.length];
  if (part === undefined || position < part) return today;
  // After a gap it is said late, and holds from the part that runs.
  const from = Math.max(part, Math.floor(position));
  const { localDay, measuredWh, clearWh, heldClearness, forecast } = today;
  const after = [...said, { part: from, clearness: cautious }];
  return { localDay, measuredWh, clearWh, heldClearness, said: after, forecast };
}

/** The record after a day is over. */
export function closeDay(
  record: SkyRecord,
  day: ClearDay,
  cautionFraction: number | null,
): SkyRecord {
  const { today } = record;
  if (today === null) return record;
  const days = withDay(record.days, today);
  const isKept = days !== record.days;
  const tailShift =
    isKept && cautionFraction !== null
      ? shiftAfter(record, { today, closed: itemAt(days, days.length - 1), day, cautionFraction })
      : record.tailShift;
  return { days, today: null, tailShift };
}

function shiftAfter(
  record: SkyRecord,
  input: {
    readonly today: SkyToday;
    readonly closed: SkyDay;
    readonly day: ClearDay;
    readonly cautionFraction: number;
  },
): number {
  const allowed = 1 - input.cautionFraction;
  let { tailShift } = record;
  for (const { part, clearness } of input.today.said) {
    const came = restOf(input.closed, { position: part, clearWh: input.day.partWh });
    if (came === null) continue;
    tailShift += STEP * (allowed - (came < clearness ? 1 : 0));
  }
  // Past the ends of the range the shift must not wind up.
  return Math.min(TAIL_MAX - allowed, Math.max(TAIL_MIN - allowed, tailShift));
}
