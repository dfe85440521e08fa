/** Whether the measured powers of the site can be compared, and how. */
import type { BalanceSettings } from "../service/control/settings.ts";
import type { BalanceSection } from "./schema.ts";

interface Named {
  readonly id: string;
}

/** Of a whole file, or of one of which a part could not be read. */
export interface MeasuredSite {
  readonly arrays: readonly (Named | undefined)[];
  readonly hydro: readonly (Named | undefined)[];
  readonly wind: readonly (Named | undefined)[];
  readonly isMapped: (signal: string) => boolean;
}

/** @returns Names of the signals without which sources, battery and loads can't be added up. */
export function missingForBalance({ isMapped, ...site }: MeasuredSite): readonly string[] {
  const sources = (["arrays", "hydro", "wind"] as const).flatMap((list) => {
    const kind = list === "arrays" ? "array" : list;
    return site[list].flatMap((source) =>
      source === undefined ? [] : [`${kind}.${source.id}.power`],
    );
  });
  const generator = isMapped("generator.running") ? ["generator.power"] : [];
  const wanted = ["battery.voltage", "battery.current", "inverter.power", ...sources];
  return [...wanted, ...generator].filter((signal) => !isMapped(signal));
}

export function toBalance(balance: BalanceSection, site: MeasuredSite): BalanceSettings | null {
  if (balance.mode === "ignore" || missingForBalance(site).length > 0) return null;
  return {
    toleranceW: balance.tolerance,
    toleranceFraction: balance.share,
    forMs: balance.for,
  };
}
