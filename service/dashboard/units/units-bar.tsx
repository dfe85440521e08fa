/** At the foot of every page: in which units and by which clock it speaks. */
import { CHOICES } from "./choice.ts";
import type { Units } from "./choice.ts";

interface Props {
  readonly units: Units;
  readonly choose: (units: Units) => void;
}

const NAMES = {
  temperature: ["Temperature", { C: "°C", F: "°F" }],
  volume: ["Volume", { L: "litres", gal: "US gallons" }],
  clock: ["Clock", { 24: "24 hours", 12: "12 hours" }],
} as const;

export function UnitsBar({ units, choose }: Props) {
  return (
    <details>
      <summary>Units and clock</summary>
      <div class="filter">
        <Choice name="temperature" {...{ units, choose }} />
        <Choice name="volume" {...{ units, choose }} />
        <Choice name="clock" {...{ units, choose }} />
      </div>
      <p class="hint">Kept in this browser alone. The settings file names its own units.</p>
    </details>
  );
}

function Choice({ name, units, choose }: Props & { readonly name: keyof Units }) {
  const [label, words] = NAMES[name];
  const list: readonly string[] = CHOICES[name];
  const wordOf: Readonly<Record<string, string>> = words;
  return (
    <label>
      {label}
      <select
        value={units[name]}
        onChange={({ currentTarget }) => choose({ ...units, [name]: currentTarget.value })}
      >
        {list.map((choice) => (
          <option key={choice} value={choice}>
            {wordOf[choice]}
          </option>
        ))}
      </select>
    </label>
  );
}
