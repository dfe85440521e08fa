import type { UnusedFigures } from "../unused-ledger.ts";

const WORDS: readonly (readonly [keyof UnusedFigures, string])[] = [
  ["unwantedWh", "that no load wanted"],
  ["batteryFirstWh", "while the battery came first"],
  ["tooLittleWh", "too little for a load, or not sure to be enough"],
  ["itsTurnWh", "while a load rested, or waited its turn or its hours"],
  ["noRoomWh", "for which inverter, wires or battery had no room"],
  ["heldOffWh", "while a load was held off"],
];

/** Less than this share of it is not worth a word. [1] */
const SAID_FROM = 0.005;

/** Of what was there and nobody took: how much for which reason, the largest part first. */
export function unusedParts(
  unused: UnusedFigures,
): readonly { readonly energyWh: number; readonly words: string }[] {
  const sumWh = WORDS.reduce((sum, [key]) => sum + unused[key], 0);
  return WORDS.map(([key, words]) => ({ energyWh: unused[key], words }))
    .filter(({ energyWh }) => energyWh > 0 && energyWh >= SAID_FROM * sumWh)
    .sort((one, other) => other.energyWh - one.energyWh);
}
