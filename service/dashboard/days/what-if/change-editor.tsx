/** One key at a time: a height is dragged or slid, a size is written. */
import { useState } from "preact/hooks";
import type { SettingsView } from "../../../settings-desk.ts";
import { unbroken } from "../../format.ts";
import type { Format } from "../../format.ts";
import type { Changes } from "../../settings/proposal.ts";
import type { RibbonDay } from "../ribbon-day.ts";
import { HEIGHT_MAX_PERCENT, isAnswerable, percentIn, percentText } from "./choices.ts";
import type { Choice } from "./choices.ts";
import { HeightPicture } from "./height-picture.tsx";

interface Props {
  readonly choices: readonly Choice[];
  readonly settings: SettingsView;
  readonly day: RibbonDay;
  readonly format: Format;
  readonly changes: Changes;
  /** null: as it is. */
  readonly set: (key: string, value: string | null) => void;
}

const OTHER = "another key";

export function ChangeEditor({ choices, settings, day, format, changes, set }: Props) {
  const [chosen, setChosen] = useState(choices[0]?.key ?? OTHER);
  const choice = choices.find(({ key }) => key === chosen);
  return (
    <>
      <div class="filter">
        <label>
          What to change
          <select value={chosen} onChange={(event) => setChosen(event.currentTarget.value)}>
            {choices.map(({ key, name }) => (
              <option key={key} value={key}>
                {name}
              </option>
            ))}
            <option value={OTHER}>Another key…</option>
          </select>
        </label>
        {choice === undefined || choice.kind !== "text" ? null : (
          <TextEditor key={choice.key} choice={choice} changes={changes} set={set} />
        )}
      </div>
      {choice === undefined ? <OtherKey settings={settings} set={set} /> : null}
      {choice === undefined || choice.kind === "text" ? null : (
        <HeightEditor key={choice.key} {...{ choice, day, format, changes, set }} />
      )}
    </>
  );
}

interface OneProps extends Pick<Props, "changes" | "set"> {
  readonly choice: Choice;
}

function TextEditor({ choice, changes, set }: OneProps) {
  const { key, value, range } = choice;
  return (
    <label>
      New value{range === null ? "" : `, ${unbroken(range)}`}
      <input
        value={changes.get(key) ?? value ?? ""}
        onInput={(event) => {
          const written = event.currentTarget.value.trim();
          set(key, written === value || written === "" ? null : written);
        }}
      />
    </label>
  );
}

function HeightEditor(props: OneProps & Pick<Props, "day" | "format">) {
  const { choice, changes, set, day, format } = props;
  const { key, kind, value, fallback } = choice;
  const now = percentIn(value ?? fallback) ?? 0;
  const percent = percentIn(changes.get(key) ?? null) ?? now;
  const sign = kind === "above" ? 1 : -1;
  const curveMost = Math.max(...day.ruleCurveFraction.map((fraction) => fraction ?? 0));
  // Above a full battery no load would ever start.
  const room = kind === "above" ? Math.floor((1 - curveMost) * 100) : HEIGHT_MAX_PERCENT;
  const [least, most] = [Math.min(0, now), Math.max(now, Math.min(HEIGHT_MAX_PERCENT, room))];
  const pick = (wanted: number): void => {
    const within = Math.min(most, Math.max(least, Math.round(wanted * 2) / 2));
    set(key, within === now ? null : percentText(within));
  };
  const side = kind === "above" ? "over" : "under";
  const where = `${unbroken(percentText(percent))} ${side} the rule curve`;
  return (
    <>
      <HeightPicture
        percent={sign * percent}
        pick={(height) => pick(sign * height)}
        {...{ day, format }}
      />
      <ul class="legend">
        {[
          ["soc", "battery"],
          ["curve", "rule curve"],
          ["mark", kind === "above" ? "starts here" : "stops here"],
        ].map(([name, words]) => (
          <li key={name}>
            <svg width="28" height="14" class="ribbon-key" aria-hidden="true">
              <path class={name} d="M0 7H28" />
            </svg>{" "}
            {words}
          </li>
        ))}
      </ul>
      <div class="span slide">
        <label>
          <span>
            {kind === "above" ? "Starts at" : "Stops at"} {where}
            {percent === now ? ", as set" : `; set: ${unbroken(percentText(now))}`}
          </span>
          <input
            type="range"
            min={least}
            max={most}
            step="0.5"
            value={percent}
            aria-valuetext={where}
            onInput={(event) => pick(Number(event.currentTarget.value))}
          />
        </label>
      </div>
    </>
  );
}

function OtherKey({ settings, set }: Pick<Props, "settings" | "set">) {
  const [key, setKey] = useState("");
  const [value, setValue] = useState("");
  const known = settings.keys.filter(isAnswerable);
  const entry = known.find((one) => one.key === key);
  return (
    <form
      class="filter"
      onSubmit={(event) => {
        event.preventDefault();
        set(key.trim(), value.trim());
      }}
    >
      <label>
        Key
        <input
          list="what-if-keys"
          value={key}
          required
          onInput={(event) => setKey(event.currentTarget.value)}
        />
      </label>
      <datalist id="what-if-keys">
        {known.map((one) => (
          <option key={one.key} value={one.key} />
        ))}
      </datalist>
      <label>
        Value
        <input
          value={value}
          required
          placeholder={entry?.value ?? entry?.fallback ?? ""}
          onInput={(event) => setValue(event.currentTarget.value)}
        />
      </label>
      <button type="submit">Take it up</button>
      {entry === undefined ? null : <p class="hint">{entry.meaning}</p>}
    </form>
  );
}
