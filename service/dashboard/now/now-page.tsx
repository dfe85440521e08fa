/** Now: the stair, what each load does and why, and where the power goes. */
import type { SiteView } from "../../site-view.ts";
import type { StateView } from "../../state-view.ts";
import type { Format } from "../format.ts";
import type { Session } from "../session/session.ts";
import { GoodNow } from "../times/good-now.tsx";
import { StairPicture } from "../stair/stair-picture.tsx";
import { stairOf } from "../stair/steps.ts";
import type { Stair } from "../stair/steps.ts";
import { Alerts } from "./alerts.tsx";
import { balanceText } from "./balance.ts";
import { LoadList } from "./load-list.tsx";

interface Props {
  readonly site: SiteView;
  readonly state: StateView;
  readonly session: Session;
  readonly format: Format;
}

export function NowPage({ site, state, session, format }: Props) {
  const stair = stairOf(site, state);
  const { verdict } = state;
  return (
    <>
      <h1>Now</h1>
      <Alerts state={state} format={format} />
      <GoodNow />
      {verdict === null || stair === null ? (
        <p>Nothing has been decided yet.</p>
      ) : (
        <>
          <p class="balance">{balanceText(verdict, format)}</p>
          <div class="now">
            <figure class="card" aria-labelledby="stair-text">
              <StairPicture stair={stair} format={format} />
              <figcaption id="stair-text">{captionOf(stair, format)}</figcaption>
            </figure>
            <section aria-labelledby="loads-heading">
              <h2 id="loads-heading">Loads</h2>
              <LoadList {...{ site, state, session, format }} steps={stair.steps} />
              <PanelList state={state} format={format} />
            </section>
          </div>
        </>
      )}
    </>
  );
}

const VOLTS_ALONE =
  "No state of charge is known: the scale is the battery's voltage as it would be at rest, which " +
  "says little of how much is in it. ";

function captionOf(stair: Stair, format: Format): string {
  const text = stair.kind === "charge" ? format.share : format.voltage;
  const marks = [
    stair.level === null ? "The battery's level is not known" : `Battery ${text(stair.level)}`,
    ...(stair.curve === null ? [] : [`rule curve ${text(stair.curve)}`]),
    ...(stair.floor === null ? [] : [`floor ${text(stair.floor)}`]),
  ];
  const rule =
    "A load may start when the battery has climbed its step, and stops under the hatching.";
  return `${marks.join(", ")}. ${stair.kind === "voltage" ? VOLTS_ALONE : ""}${rule}`;
}

function PanelList({ state, format }: Pick<Props, "state" | "format">) {
  if (state.panels.length === 0) return null;
  return (
    <ul class="panels">
      {state.panels.map(({ id, label, sentence }) => (
        <li key={id}>
          Panel {label}: {format.words(sentence)}.
        </li>
      ))}
    </ul>
  );
}
