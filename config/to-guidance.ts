/** An appliance of the file for the core. */
import type { Appliance, ProfilePiece } from "../service/control/guidance/appliance.ts";
import type { ApplianceSection } from "./schema-guidance.ts";

export function toAppliance(appliance: ApplianceSection): Appliance {
  return {
    id: appliance.id,
    label: appliance.label ?? appliance.id,
    profile: profileOf(appliance),
    latestFinishMinute: appliance.latestFinish ?? null,
    windows: appliance.windows.map(({ from, to }) => ({ fromMinute: from, toMinute: to })),
  };
}

/** Empty where the file says neither. */
export function profileOf({ profile, ...whole }: ApplianceSection): readonly ProfilePiece[] {
  if (profile !== undefined) {
    return profile.map((piece) => ({ powerW: piece.power, forMs: piece.for }));
  }
  if (whole.power === undefined || whole.for === undefined) return [];
  return [{ powerW: whole.power, forMs: whole.for }];
}
