/** New settings for a running service: what needs a restart, which actuators stay the same. */
import type { ActuatorSettings, SiteSettings } from "../config/site-settings.ts";
import type { KeptActuators } from "./control/carry-over.ts";
import { actuatorPrint, planLinks } from "./switching/links.ts";

export interface Refitted {
  /** What the service runs on from now. */
  readonly site: SiteSettings;
  /** Sections that were changed, but are used as they were until the next start. */
  readonly needsRestart: readonly string[];
}

/**
 * Name, broker and web server are what everybody else knows the service by; they stay as they are
 * while it runs.
 */
export function refitted(running: SiteSettings, next: SiteSettings): Refitted {
  const fixed = { id: running.id, broker: running.broker, web: running.web };
  const names = { id: "site.id", broker: "broker", web: "web" } as const;
  const changed = (["id", "broker", "web"] as const).filter(
    (key) => JSON.stringify(running[key]) !== JSON.stringify(next[key]),
  );
  return { site: { ...next, ...fixed }, needsRestart: changed.map((key) => names[key]) };
}

/**
 * The actuators that are told the same things over the same connection before and after, so that
 * what they are at may go on. Their place in the list does not matter.
 */
export function keptActuators(before: SiteSettings, after: SiteSettings): KeptActuators {
  const known = new Set(fingerprints(before).map(({ print }) => print));
  const kept = fingerprints(after).filter(({ print }) => known.has(print));
  const idsOf = (kind: ActuatorSettings["kind"]): ReadonlySet<string> =>
    new Set(kept.flatMap(({ actuator }) => (actuator.kind === kind ? [actuator.id] : [])));
  return { loads: idsOf("load"), panels: idsOf("panel") };
}

interface Fingerprint {
  readonly actuator: ActuatorSettings;
  readonly print: string;
}

function fingerprints({ id, actuators }: SiteSettings): readonly Fingerprint[] {
  return planLinks(id, actuators).flatMap((plan) =>
    plan.actuators.map((actuator) => ({
      actuator,
      print: actuatorPrint(plan, actuator),
    })),
  );
}
