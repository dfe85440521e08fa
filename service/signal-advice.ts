/** What may be wrong with a signal that cannot be used, and where to look first. */
import type { IgnoredReason } from "./telemetry/ignored.ts";
import type { SignalView } from "./telemetry/views.ts";

/** Why messages on the signal's topic were not understood; the others belong to the quality. */
const MISREAD: Partial<Record<IgnoredReason, string>> = {
  "too-large": "its messages are too large",
  "not-utf8": "its messages are not text",
  "not-json": "`field` is given, but its messages are no JSON",
  "too-deep": "its messages are nested too deeply",
  "no-field": "its messages lack the `field` of the settings",
  "wrong-type": "its messages hold something else than a value of this kind there",
  "not-finite": "its messages hold no number there",
  "unknown-word": "its messages hold a word that the settings do not translate",
  "bad-stamp": "the time in its messages cannot be read",
  "stamp-ahead": "the time in its messages lies in the future: set the publisher's clock",
  "out-of-order": "the time in its messages goes back: set the publisher's clock",
};

/** @returns A sentence without its full stop; null where there is nothing to say. */
export function adviceOf(view: SignalView): string | null {
  const { quality, ignoredCounts } = view;
  if (quality === "fresh" || quality === "unmapped") return null;
  const misread = misreadBy(ignoredCounts);
  if (misread !== null && quality !== "frozen") return `messages come, but ${misread}`;
  switch (quality) {
    case "waiting":
      return "nothing has come: see that the device is on and publishes on this very topic";
    case "retained":
      return "only what the broker had kept: see that the device still publishes";
    case "stale":
      return "it has stopped: see its supply and its network, or give it a longer `stale`";
    case "implausible":
      return "what comes is outside its range or jumps: see unit, scale and sign in the settings";
    case "frozen":
      return "it comes, but does not move while others do: the sensor may be stuck";
  }
}

/** Messages come on its topic, and hold no value that could be read. */
export function isMisread({ quality, ignoredCounts }: SignalView): boolean {
  const isOpen = quality !== "fresh" && quality !== "unmapped" && quality !== "frozen";
  return isOpen && misreadBy(ignoredCounts) !== null;
}

/** The commonest one. */
function misreadBy(counts: SignalView["ignoredCounts"]): string | null {
  let words: string | null = null;
  let most = 0;
  let reason: IgnoredReason;
  for (reason in MISREAD) {
    const count = counts[reason] ?? 0;
    if (count <= most) continue;
    most = count;
    words = MISREAD[reason] ?? null;
  }
  return words;
}
