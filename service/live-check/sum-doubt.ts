/**
 * Powers that do not add up though each looks sound: whether another sign or another unit of one of
 * them would make them add up. One glance at one instant proves nothing, so it is only a note.
 */
import { imbalanceOf } from "../control/balance.ts";
import type { Observation, Reading } from "../control/observation.ts";
import type { BalanceSettings, ControlSettings } from "../control/settings.ts";

/** Where the settings have none. Values of one instant come some seconds apart. Ours, no source */
const TOLERANCE: Pick<BalanceSettings, "toleranceW" | "toleranceFraction"> = {
  toleranceW: 300,
  toleranceFraction: 0.2,
};

export interface SumDoubt {
  readonly missingW: number;
  /** What would make it come out; empty: nothing that is tried. */
  readonly remedies: readonly string[];
}

/** @returns null while they add up, or cannot be compared. */
export function sumDoubt(observation: Observation, control: ControlSettings): SumDoubt | null {
  const balance: BalanceSettings = control.balance ?? { ...TOLERANCE, forMs: 0 };
  const isOff = (seen: Observation): number | null => {
    const imbalance = imbalanceOf(seen, control, balance);
    if (imbalance === null) return null;
    return imbalance.missingW > imbalance.toleratedW ? imbalance.missingW : null;
  };
  const missingW = isOff(observation);
  if (missingW === null) return null;
  const remedies = trials(observation, control)
    .filter(({ seen }) => isOff(seen) === null)
    .map(({ remedy }) => remedy);
  return { missingW, remedies };
}

interface Trial {
  readonly remedy: string;
  readonly seen: Observation;
}

function trials(observation: Observation, control: ControlSettings): readonly Trial[] {
  const { battery, inverter, sources } = observation;
  const times = (reading: Reading, factor: number): Reading => ({
    ...reading,
    value: reading.value * factor,
  });
  const kilo = (name: string) => `${name} is sent in kW and read as W`;
  return [
    {
      remedy: "battery.current has the other sign (`positive:` in its settings)",
      seen: { ...observation, battery: { ...battery, currentA: times(battery.currentA, -1) } },
    },
    {
      remedy: kilo("inverter.power"),
      seen: { ...observation, inverter: { ...inverter, powerW: times(inverter.powerW, 1000) } },
    },
    ...control.sources.map(({ kind, id }, index) => ({
      remedy: kilo(`${kind}.${id}.power`),
      seen: {
        ...observation,
        sources: sources.map((source, place) =>
          place === index ? { ...source, powerW: times(source.powerW, 1000) } : source,
        ),
      },
    })),
  ];
}
