/** What people ask for between two ticks. */
import type { HumanRequest } from "./control/observation.ts";
import type { ControlSettings } from "./control/settings.ts";

export interface Requests {
  /** @returns False if there is no such load or panel. */
  readonly askClear: (kind: "load" | "panel", id: string) => boolean;
  readonly requestFor: (kind: "load" | "panel", id: string) => HumanRequest;
  /** A tick has seen them: each counts for one tick. */
  readonly forget: () => void;
}

/** @param whenAsked - Called for each request, so that it does not wait for a regular tick. */
export function createRequests(
  { loads, panels }: ControlSettings,
  whenAsked: () => void,
): Requests {
  const asked = new Set<string>();
  return {
    askClear(kind, id) {
      const owners: readonly { readonly id: string }[] = kind === "load" ? loads : panels;
      if (!owners.some((owner) => owner.id === id)) return false;
      asked.add(`${kind} ${id}`);
      whenAsked();
      return true;
    },
    requestFor: (kind, id) => (asked.has(`${kind} ${id}`) ? "clear" : "none"),
    forget: () => asked.clear(),
  };
}
