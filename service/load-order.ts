/** What a person gets to know who has asked something of a load. */
import type { LoadView, StateView } from "./state-view.ts";
import { within } from "./within.ts";

/** They wait this long at most for the tick that decides on it. [ms] */
const DECIDED_WITHIN_MS = 3_000;

/**
 * @param decided - Kept once a tick has decided; null: there is no such load.
 * @returns The load as it was decided on, null if that did not come in time.
 */
export function loadOnceDecided(
  id: string,
  decided: Promise<void> | null,
  state: () => StateView,
): Promise<LoadView | null> | null {
  if (decided === null) return null;
  const load = decided.then(() => state().loads.find((one) => one.id === id) ?? null);
  return within(DECIDED_WITHIN_MS, load);
}
