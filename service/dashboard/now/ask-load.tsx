/**
 * Asking a load to run or to stay off for a time. What is shown as done is what the load's own
 * switch has confirmed; what cannot be says why.
 */
import { useState } from "preact/hooks";
import type { LoadView, StateView } from "../../state-view.ts";
import type { Format } from "../format.ts";
import { asSentence } from "../sentence.ts";
import type { LoadOrder, Session } from "../session/session.ts";

const MINUTE_S = 60;
const HOUR_S = 3_600;
const TIMES_S = [15 * MINUTE_S, 30 * MINUTE_S, HOUR_S, 2 * HOUR_S, 4 * HOUR_S, 8 * HOUR_S];
const DEFAULT_S = HOUR_S;

interface Props {
  readonly load: LoadView;
  readonly mode: StateView["mode"];
  readonly session: Session;
  readonly format: Format;
}

export function AskLoad({ load, mode, session, format }: Props) {
  const [forS, setForS] = useState(DEFAULT_S);
  const [isBusy, setBusy] = useState(false);
  const [refusal, setRefusal] = useState<string | null>(null);
  const order = (asked: LoadOrder): void => {
    setBusy(true);
    setRefusal(null);
    void session.order(load.id, asked).then((answer) => {
      setBusy(false);
      if ("refusal" in answer) setRefusal(answer.refusal);
    });
  };
  return (
    <div class="ask">
      <p role="status" class="asked">
        {isBusy ? "Asking…" : (spoken(refusal, format) ?? askedText(load, mode, format))}
      </p>
      {load.asked === null ? null : (
        <button
          type="button"
          disabled={isBusy || session.isSignedIn !== true}
          aria-label={`Release ${load.label}`}
          onClick={() => order({ request: "release" })}
        >
          Release
        </button>
      )}
      <details>
        <summary aria-label={`Run or hold off ${load.label}`}>Run or hold off…</summary>
        {session.isSignedIn === true ? (
          <AskForm {...{ load, forS, setForS, isBusy, order, format }} />
        ) : (
          <p class="hint">Sign in first, at the top of the page.</p>
        )}
      </details>
    </div>
  );
}

function spoken(refusal: string | null, format: Format): string | null {
  return refusal === null ? null : format.words(refusal);
}

interface FormProps {
  readonly load: LoadView;
  readonly forS: number;
  readonly setForS: (forS: number) => void;
  readonly isBusy: boolean;
  readonly order: (asked: LoadOrder) => void;
  readonly format: Format;
}

function AskForm({ load, forS, setForS, isBusy, order, format }: FormProps) {
  return (
    <div class="ask-form">
      <label>
        For
        <select
          value={String(forS)}
          onChange={(event) => setForS(Number(event.currentTarget.value))}
        >
          {TIMES_S.map((timeS) => (
            <option key={timeS} value={String(timeS)}>
              {format.span(timeS)}
            </option>
          ))}
        </select>
      </label>
      <button
        type="button"
        disabled={isBusy}
        aria-label={`Run now: ${load.label}`}
        onClick={() => order({ request: "run", forS })}
      >
        Run now
      </button>
      <button
        type="button"
        disabled={isBusy}
        aria-label={`Hold off: ${load.label}`}
        onClick={() => order({ request: "hold", forS })}
      >
        Hold off
      </button>
      <p class="hint">
        A run takes what it needs from the battery, down to its floor; protections, limits and rests
        stay in force. Holding off is no isolation: whoever works on a load locks its breaker.
      </p>
    </div>
  );
}

function askedText(load: LoadView, mode: StateView["mode"], format: Format): string {
  const { asked, stage, isConfirmed } = load;
  if (asked === null) return "";
  const until = format.time(asked.until);
  const what = asked.wants === "run" ? `Asked to run until ${until}` : `Held off until ${until}`;
  if (mode === "shadow") return asSentence(`${what}, in words alone: nothing is commanded`);
  if (asked.wants === "run" && stage === 0) return asSentence(`${what}: it starts once it may`);
  const isDone = isConfirmed
    ? "its switch has confirmed it"
    : "its switch has not confirmed it yet";
  return asSentence(`${what}; ${isDone}`);
}
