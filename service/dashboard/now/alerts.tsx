/** What a person should know before anything else. */
import type { StateView } from "../../state-view.ts";
import type { Format } from "../format.ts";
import { asSentence } from "../sentence.ts";

interface Alert {
  readonly severity: "warning" | "alarm";
  readonly sentence: string;
}

export function alertsOf(state: StateView): Alert[] {
  const broker = state.brokerTroubles.map((trouble) => ({
    severity: "alarm" as const,
    sentence: `The broker: ${trouble}`,
  }));
  const lost = state.isBrokerConnected || broker.length > 0 ? [] : [LOST];
  const findings = (state.verdict?.findings ?? []).flatMap(({ severity, sentence }) =>
    severity === "info" ? [] : [{ severity, sentence }],
  );
  const owners = [...state.loads, ...state.panels].flatMap(({ label, severity, sentence }) =>
    severity === "alarm" ? [{ severity, sentence: `${label}: ${sentence}` }] : [],
  );
  return [...broker, ...lost, ...findings, ...owners];
}

const LOST: Alert = { severity: "alarm", sentence: "The broker is not connected" };
const MARKS = { alarm: "Look", warning: "Note" } as const;

interface Props {
  readonly state: StateView;
  readonly format: Format;
}

export function Alerts({ state, format }: Props) {
  const alerts = alertsOf(state);
  return (
    <div class="alerts" role="status">
      {alerts.map(({ severity, sentence }) => (
        <p key={sentence} class={`alert ${severity}`}>
          <strong>{MARKS[severity]}</strong> {asSentence(format.words(sentence))}
        </p>
      ))}
      {state.mode === "shadow" ? (
        <p class="alert note">
          <strong>Shadow</strong> Decides and tells, but commands nothing.
        </p>
      ) : null}
    </div>
  );
}
