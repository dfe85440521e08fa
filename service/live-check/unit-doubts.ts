/** Whether a number that came looks like one of another unit, scale or sign than is set. */
import { publisherUnitTable } from "../../config/decodings.ts";
import { SIGNALS } from "../../config/signals.ts";
import type { SignalEntry, SignalKey } from "../../config/signals.ts";
import type { FeedSettings } from "../../config/site-settings.ts";
import type { ControlSettings } from "../control/settings.ts";
import { decodePayload, openPayload, pointerPath } from "../telemetry/payload.ts";

const SCALES = [0.1, 0.01, 0.001, 10, 100, 1000];

/** The number as its publisher wrote it; null: there is none at that place. */
export function rawNumber({ field, decoding }: FeedSettings, payload: Uint8Array): number | null {
  if (decoding.kind !== "number") return null;
  const path = field === null ? null : pointerPath(field);
  const plain = { kind: "number", scale: 1, offset: 0 } as const;
  const decoded = decodePayload(openPayload(payload), { path, decoding: plain });
  return decoded.kind === "value" && typeof decoded.value === "number" ? decoded.value : null;
}

/** For a number outside the range of its signal: what would bring it inside; null: nothing. */
export function otherUnit(key: SignalKey, feed: FeedSettings, raw: number): string | null {
  const isIn = (value: number): boolean => value >= feed.min && value <= feed.max;
  for (const [symbol, { scale, offset }] of unitsOf(key)) {
    if (isIn(raw * scale + offset)) return `${String(raw)} would fit with \`unit: "${symbol}"\``;
  }
  const { decoding } = feed;
  if (decoding.kind !== "number" || raw === 0) return null;
  if (isIn(-raw * decoding.scale + decoding.offset)) return `${String(raw)} has the other sign`;
  for (const scale of SCALES) {
    if (isIn(raw * decoding.scale * scale + decoding.offset)) {
      return `${String(raw)} would fit with \`scale: ${String(scale)}\``;
    }
  }
  return null;
}

/** For a number inside the range that looks wrong all the same; null: it does not. */
export function doubtOfNumber(key: SignalKey, feed: FeedSettings, raw: number): string | null {
  const { dimension }: SignalEntry = SIGNALS[key];
  const { decoding } = feed;
  if (dimension !== "fraction" || decoding.kind !== "number") return null;
  const isPercent = decoding.scale === 0.01 && decoding.offset === 0;
  const looksLikeShare = isPercent && raw > 0 && raw < 1;
  return looksLikeShare
    ? `${String(raw)} is read as percent; of a publisher that says 0 to 1 it is \`unit: "1"\``
    : null;
}

/** For a power that comes: more than whatever gives or draws it can; null: it may be so. */
export function ratingDoubt(
  { key, ownerId }: { readonly key: SignalKey; readonly ownerId: string | null },
  value: number,
  control: ControlSettings,
): string | null {
  const ratedW = ratingW(key, ownerId, control);
  if (ratedW === null || Math.abs(value) <= RATING_TIMES * ratedW) return null;
  const [seen, rated] = [value, ratedW].map((powerW) => `${String(Math.round(powerW))} W`);
  return `${seen ?? ""} of something that is rated ${rated ?? ""}: see its unit and scale`;
}

/** Ours, no source: clouds' edges, meters' errors and short peaks stay under it. */
const RATING_TIMES = 2;

function ratingW(
  key: SignalKey,
  ownerId: string | null,
  { sources, inverter, panels, loads }: ControlSettings,
): number | null {
  switch (key) {
    case "inverter.power":
      return inverter.surgeVA;
    case "array.{id}.power":
    case "hydro.{id}.power":
    case "wind.{id}.power":
      return sources.find(({ id }) => id === ownerId)?.peakW ?? null;
    case "panel.{id}.power":
      return panels.find(({ id }) => id === ownerId)?.feederMaxW ?? null;
    case "load.{id}.power":
      return loads.find(({ id }) => id === ownerId)?.stagesW.at(-1) ?? null;
    default:
      return null;
  }
}

function unitsOf(key: SignalKey) {
  const { dimension }: SignalEntry = SIGNALS[key];
  return dimension === null || dimension === "count" ? [] : publisherUnitTable(dimension);
}
