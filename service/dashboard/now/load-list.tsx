/** Each load in words: what it does, why, and when that may change. */
import type { SiteView } from "../../site-view.ts";
import type { StateView } from "../../state-view.ts";
import type { Format } from "../format.ts";
import { asSentence } from "../sentence.ts";
import type { Step } from "../stair/steps.ts";
import type { Session } from "../session/session.ts";
import { AskLoad } from "./ask-load.tsx";
import { climbS } from "./expected.ts";

const STATES = { on: "On", waiting: "Waits", held: "Held off" } as const;

interface Props {
  readonly site: SiteView;
  readonly state: StateView;
  readonly steps: readonly Step[];
  readonly session: Session;
  readonly format: Format;
}

/** In the order in which the battery climbs them. */
export function LoadList({ site, state, steps, session, format }: Props) {
  return (
    <ul class="loads">
      {steps.map((step) => (
        <LoadItem key={step.id} {...{ site, state, step, session, format }} />
      ))}
    </ul>
  );
}

function LoadItem({
  site,
  state,
  step,
  session,
  format,
}: Omit<Props, "steps"> & { readonly step: Step }) {
  const { verdict } = step;
  const load = site.loads.find(({ id }) => id === step.id);
  const isOff = step.state === "waiting" && !verdict.code.startsWith("waiting");
  const seconds = climbS(site, state, verdict);
  return (
    <li class={`load ${step.state}`} id={`load-${step.id}`}>
      <h3>
        <span class="number" aria-label={`Step ${String(step.number)}:`} role="img">
          <span aria-hidden="true">{step.number}</span>
        </span>{" "}
        {step.label}
      </h3>
      <p class="what">
        <strong>{isOff ? "Off" : STATES[step.state]}</strong>
        {load === undefined ? null : <span>{powerText(load, verdict.stage, format)}</span>}
      </p>
      <p class="why">{asSentence(format.words(verdict.sentence))}</p>
      {seconds === null ? null : (
        <p class="when">
          About {format.span(seconds)} away, if the battery goes on being charged as now.
        </p>
      )}
      <AskLoad load={verdict} mode={state.mode} session={session} format={format} />
    </li>
  );
}

function powerText(load: SiteView["loads"][number], stage: number, format: Format): string {
  const [least = 0] = load.stagesW;
  const most = load.stagesW.at(-1) ?? least;
  if (load.isModulating) return `${format.power(least)} to ${format.power(most)}`;
  if (stage > 0 && load.stagesW.length > 1) {
    const powerW = load.stagesW[stage - 1] ?? most;
    return `stage ${String(stage)} of ${String(load.stagesW.length)}: ${format.power(powerW)}`;
  }
  return load.stagesW.map((powerW) => format.power(powerW)).join(" or ");
}
