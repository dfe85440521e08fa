/**
 * The table of latest values: messages write it as they come, the tick reads it at its own pace.
 * Writing the same value twice, or an old one again, does no harm beyond renewing its age.
 */
import type { SignalKey } from "../../config/signals.ts";
import type { SignalSettings } from "../../config/site-settings.ts";
import type { ChargeStage, Quality, Reading } from "../control/observation.ts";
import type { ControlSettings } from "../control/settings.ts";
import { limitOf } from "./limits.ts";
import type { IsPastLimit } from "./limits.ts";
import { createMapping } from "./mapping.ts";
import type { MappedValue } from "./mapping.ts";
import { zeroCounts } from "./payload.ts";
import type { IgnoredReason, SignalValue } from "./payload.ts";
import {
  EMPTY_SLOT,
  isInRange,
  qualityOf,
  withCut,
  withImplausible,
  withValue,
} from "./quality.ts";
import type { Slot } from "./quality.ts";

export interface TableOptions {
  readonly signals: readonly SignalSettings[];
  readonly control: ControlSettings;
  /** Monotonic time. [ms] */
  readonly nowMs: () => number;
  /** A value crossed an interlock's limit: the next tick should not wait. */
  readonly requestTick: () => void;
}

export interface Message {
  readonly topic: string;
  readonly payload: Uint8Array;
  readonly isRetained: boolean;
}

/** One mapped signal, for people. */
export interface SignalView {
  readonly signal: SignalSettings;
  readonly value: SignalValue | null;
  readonly quality: Quality;
  /** null: nothing has arrived. [ms] */
  readonly ageMs: number | null;
  readonly ignoredCount: number;
}

export interface LatestTable {
  readonly topics: readonly string[];
  readonly receive: (message: Message) => void;
  /** The connection to the broker was lost. */
  readonly cut: () => void;
  readonly readNumber: (key: SignalKey, ownerId: string | null) => Reading;
  readonly readBoolean: (key: SignalKey, ownerId: string | null) => Reading<boolean>;
  readonly readStage: (key: SignalKey, ownerId: string | null) => Reading<ChargeStage>;
  readonly views: () => readonly SignalView[];
  readonly receivedCount: () => number;
  readonly ignoredCounts: () => Readonly<Record<IgnoredReason, number>>;
}

interface Row {
  readonly signal: SignalSettings;
  readonly isPastLimit: IsPastLimit | null;
  slot: Slot;
  wasPastLimit: boolean;
  ignoredCount: number;
}

export function createLatestTable(options: TableOptions): LatestTable {
  const mapping = createMapping(options.signals);
  const rows = new Map<string, Row>();
  for (const signal of options.signals) {
    rows.set(rowName(signal.key, signal.ownerId), {
      signal,
      isPastLimit: limitOf(signal, options.control),
      slot: EMPTY_SLOT,
      wasPastLimit: false,
      ignoredCount: 0,
    });
  }
  const ignoredCounts = zeroCounts();
  let receivedCount = 0;

  const note = (row: Row, reason: IgnoredReason): void => {
    row.ignoredCount += 1;
    ignoredCounts[reason] += 1;
  };

  return {
    topics: mapping.topics,
    receive(message) {
      receivedCount += 1;
      const atMs = options.nowMs();
      let isUrgent = false;
      for (const mapped of mapping.decode(message.topic, message.payload)) {
        const row = rows.get(rowName(mapped.signal.key, mapped.signal.ownerId));
        if (row === undefined) continue;
        const written = write(row, mapped, { atMs, isRetained: message.isRetained });
        if (written.ignored !== null) note(row, written.ignored);
        isUrgent ||= written.isUrgent;
      }
      if (isUrgent) options.requestTick();
    },
    cut() {
      for (const row of rows.values()) row.slot = withCut(row.slot, row.signal);
    },
    readNumber: (key, ownerId) =>
      read(rows.get(rowName(key, ownerId)), { nowMs: options.nowMs(), filler: 0, is: isNumber }),
    readBoolean: (key, ownerId) =>
      read(rows.get(rowName(key, ownerId)), {
        nowMs: options.nowMs(),
        filler: false,
        is: isBoolean,
      }),
    readStage: (key, ownerId) =>
      read<ChargeStage>(rows.get(rowName(key, ownerId)), {
        nowMs: options.nowMs(),
        filler: "bulk",
        is: isStage,
      }),
    views: () => [...rows.values()].map((row) => viewOf(row, options.nowMs())),
    receivedCount: () => receivedCount,
    ignoredCounts: () => ({ ...ignoredCounts }),
  };
}

function rowName(key: SignalKey, ownerId: string | null): string {
  return ownerId === null ? key : `${key} ${ownerId}`;
}

/** Writes one value into its row. */
function write(
  row: Row,
  { decoded, signal }: MappedValue,
  arrival: { readonly atMs: number; readonly isRetained: boolean },
): { readonly ignored: IgnoredReason | null; readonly isUrgent: boolean } {
  if (decoded.kind === "ignored") return { ignored: decoded.reason, isUrgent: false };
  const { value } = decoded;
  if (!isInRange(value, signal)) {
    if (arrival.isRetained) return { ignored: "out-of-range", isUrgent: false };
    const isUrgent = !row.slot.isImplausible && row.isPastLimit !== null;
    row.slot = withImplausible(row.slot);
    return { ignored: "out-of-range", isUrgent };
  }
  row.slot = withValue(row.slot, { value, ...arrival });
  if (arrival.isRetained || row.isPastLimit === null) return { ignored: null, isUrgent: false };
  const isPast = row.isPastLimit(value);
  const isUrgent = isPast && !row.wasPastLimit;
  row.wasPastLimit = isPast;
  return { ignored: null, isUrgent };
}

function read<T extends SignalValue>(
  row: Row | undefined,
  how: { readonly nowMs: number; readonly filler: T; readonly is: (value: unknown) => value is T },
): Reading<T> {
  if (row === undefined) return { value: how.filler, quality: "unmapped", ageMs: 0 };
  const { value, atMs } = row.slot;
  const quality = qualityOf(row.slot, row.signal, how.nowMs);
  if (!how.is(value)) {
    // A value of another type can only come from wrong settings: it is as good as none.
    const isMissing = value === null;
    return { value: how.filler, quality: isMissing ? quality : "implausible", ageMs: 0 };
  }
  return { value, quality, ageMs: Math.max(0, how.nowMs - atMs) };
}

function isNumber(value: unknown): value is number {
  return typeof value === "number";
}

function isBoolean(value: unknown): value is boolean {
  return typeof value === "boolean";
}

function isStage(value: unknown): value is ChargeStage {
  return typeof value === "string";
}

function viewOf(row: Row, nowMs: number): SignalView {
  const { value, atMs } = row.slot;
  return {
    signal: row.signal,
    value,
    quality: qualityOf(row.slot, row.signal, nowMs),
    ageMs: value === null ? null : Math.max(0, nowMs - atMs),
    ignoredCount: row.ignoredCount,
  };
}
