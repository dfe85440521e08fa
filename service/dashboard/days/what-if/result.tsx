/** What came of a replay: one sentence, the figures beside one another, and the day's ribbon. */
import type { DayFigures } from "../../../history/reading/day-figures.ts";
import type { ReplayedDay, WhatIfResult } from "../../../what-if-contract.ts";
import { unbroken } from "../../format.ts";
import type { Format } from "../../format.ts";
import { DayPicture } from "../day-view.tsx";
import { ribbonDay } from "../ribbon-day.ts";
import { differenceSentence } from "./words.ts";

interface Props {
  readonly result: WhatIfResult;
  /** What was recorded; null: nothing to hold it against. */
  readonly measured: DayFigures | null;
  /** Of the loads of the recorded day: each keeps its colour. */
  readonly order: readonly string[];
  readonly floorFraction: number;
  readonly format: Format;
}

export function Result({ result, measured, order, floorFraction, format }: Props) {
  const { asSet, changed, changes, reconstructedFraction, notes } = result;
  const replayed = ribbonDay({ ...result, ...changed });
  const placeOf = ({ id }: { readonly id: string }): number =>
    order.includes(id) ? order.indexOf(id) : order.length;
  const day = {
    ...replayed,
    loads: replayed.loads.toSorted((a, b) => placeOf(a) - placeOf(b)),
    besideSocFraction: ribbonDay({ ...result, ...asSet }).socFraction,
  };
  const written = changes.map(({ key, value }) => `${key}: ${unbroken(value)}`).join(", ");
  return (
    <section aria-labelledby="what-if-result">
      <h3 id="what-if-result">With {written}</h3>
      <p class="balance">{differenceSentence(result, format, floorFraction)}</p>
      <div class="wide" role="region" aria-label="Figures beside one another" tabIndex={0}>
        <table>
          <thead>
            <tr>
              <td></td>
              <th scope="col">measured</th>
              <th scope="col">replayed as set</th>
              <th scope="col">with the change</th>
            </tr>
          </thead>
          <tbody>
            {rowsOf({ asSet, changed, measured, format }).map(([name, ...figures]) => (
              <tr key={name}>
                <th scope="row">{name}</th>
                {figures.map((figure, place) => (
                  <td key={place} class="figure">
                    {figure}
                  </td>
                ))}
              </tr>
            ))}
          </tbody>
        </table>
      </div>
      <DayPicture marks={[]} outlook={null} {...{ day, floorFraction, format }} isSecond />
      <ul class="hint">
        {reconstructedFraction > 0 ? (
          <li>
            {format.share(reconstructedFraction)} of what was on offer was not measured but inferred
            from the hours before and after.
          </li>
        ) : null}
        {notes.map((note) => (
          <li key={note}>{unbroken(note)}</li>
        ))}
      </ul>
    </section>
  );
}

interface Compared extends Pick<Props, "measured" | "format"> {
  readonly asSet: ReplayedDay;
  readonly changed: ReplayedDay;
}

type Row = readonly [name: string, measured: string, asSet: string, changed: string];

function rowsOf({ asSet, changed, measured, format }: Compared): readonly Row[] {
  const { energy, share, number } = format;
  const row = (
    name: string,
    values: readonly [number | null | undefined, number, number],
    write: (value: number) => string,
  ): Row => {
    const [first, second, third] = values.map((value) =>
      value === null || value === undefined ? "not known" : write(value),
    );
    return [name, first ?? "", second ?? "", third ?? ""];
  };
  const of = (key: "curtailedWh" | "starts" | "lowestSocFraction" | "endSocFraction") =>
    [measured?.[key], asSet.figures[key], changed.figures[key]] as const;
  const ids = [...new Set([...Object.keys(asSet.loads), ...Object.keys(changed.loads)])];
  const energyOf = (day: ReplayedDay, id: string): number => day.energies[id]?.energyWh ?? 0;
  return [
    ...ids.map((id) =>
      row(
        (changed.loads[id] ?? asSet.loads[id])?.label ?? id,
        [measured?.loads[id]?.energyWh, energyOf(asSet, id), energyOf(changed, id)],
        energy,
      ),
    ),
    row("thrown away", of("curtailedWh"), energy),
    row("starts", of("starts"), number),
    row("battery at its lowest", of("lowestSocFraction"), share),
    row("battery at the end", of("endSocFraction"), share),
  ];
}
