/**
 * Does each load obey? A person who stands by has it switched on for some seconds and off again,
 * and reads what showed of that.
 */
import { useState } from "preact/hooks";
import type { LoadView, StateView } from "../../state-view.ts";
import type { Look } from "../../switch-test/looks.ts";
import type { SwitchTestView } from "../../switch-test/switch-test.ts";
import type { Format } from "../format.ts";
import { asSentence } from "../sentence.ts";
import type { Session } from "../session/session.ts";

interface Props {
  readonly state: StateView;
  readonly session: Session;
  readonly format: Format;
}

export function SwitchTests({ state, session, format }: Props) {
  const { switchTest, loads, mode } = state;
  const isUnderWay = switchTest !== null && switchTest.phase !== "over";
  return (
    <section aria-labelledby="switches-heading">
      <h2 id="switches-heading">Switches</h2>
      <p>
        A test switches one load on for about 20&nbsp;s and off again, under all its interlocks and
        limits, and writes down what showed it. Its minimum run is not waited for.
      </p>
      <p role="status" class="test-state">
        {switchTest === null ? null : (
          <>
            <strong>{switchTest.label}</strong>
            <br />
            {format.words(testText(switchTest))}
          </>
        )}
      </p>
      {switchTest === null ? null : <TestResult test={switchTest} format={format} />}
      {mode === "active" ? null : <p class="hint">In shadow mode nothing is commanded.</p>}
      {session.isSignedIn === true ? null : (
        <p class="hint">Sign in, at the top of the page, to test a switch.</p>
      )}
      <ul class="switches">
        {loads.map((load) => (
          <SwitchItem
            key={load.id}
            load={load}
            session={session}
            format={format}
            isOpen={session.isSignedIn === true && mode === "active" && !isUnderWay}
          />
        ))}
      </ul>
    </section>
  );
}

interface ItemProps {
  readonly load: LoadView;
  readonly session: Session;
  readonly format: Format;
  /** A test may be asked for. */
  readonly isOpen: boolean;
}

function SwitchItem({ load, session, format, isOpen }: ItemProps) {
  const [standsBy, setStandsBy] = useState(false);
  const [isBusy, setBusy] = useState(false);
  const [refusal, setRefusal] = useState<string | null>(null);
  const { id, label, stage } = load;
  const begin = (): void => {
    setBusy(true);
    setRefusal(null);
    const path = `/api/loads/${encodeURIComponent(id)}/test` as const;
    void session.write(path, { somebodyStandsBy: true }).then((answer) => {
      setBusy(false);
      // Whoever tests again says again that he stands by.
      setStandsBy(false);
      if ("refusal" in answer) setRefusal(answer.refusal);
    });
  };
  return (
    <li>
      <p>
        <strong>{label}</strong>
        <br />
        {asSentence(format.words(load.sentence))}
      </p>
      <details>
        <summary aria-label={`Test the switch of ${label}`}>Test the switch…</summary>
        <label class="stands-by">
          <input
            type="checkbox"
            checked={standsBy}
            disabled={!isOpen || stage > 0}
            onChange={(event) => setStandsBy(event.currentTarget.checked)}
          />
          <span>
            Somebody stands by {label}, sees that nobody works on it and that it may run (water in
            the pump, the tank full), and can switch it off at its breaker.
          </span>
        </label>
        <button
          type="button"
          disabled={!standsBy || !isOpen || isBusy}
          aria-label={`Switch on for 20 s: ${label}`}
          onClick={begin}
        >
          Switch on for 20&nbsp;s
        </button>
        <p class="hint">
          This proves the switch, not the wiring: that, and the load’s own protections, are for a
          licensed electrician under local codes.
        </p>
      </details>
      <p role="alert" class="refusal">
        {refusal === null ? null : format.words(refusal)}
      </p>
    </li>
  );
}

const PHASES = {
  starting: "It is being started.",
  on: "It is on; it goes off by itself.",
  off: "It has been told to go off.",
} as const;

function testText({ phase, outcome }: SwitchTestView): string {
  return phase === "over" ? (outcome ?? "") : PHASES[phase];
}

function TestResult({ test, format }: { readonly test: SwitchTestView; readonly format: Format }) {
  if (test.on.length === 0) return null;
  return (
    <table class="looks">
      <caption>What showed it</caption>
      <thead>
        <tr>
          <th scope="col">By</th>
          <th scope="col">after ON</th>
          <th scope="col">after OFF</th>
        </tr>
      </thead>
      <tbody>
        {test.on.map((on) => (
          <tr key={on.by}>
            <th scope="row">{BY[on.by]}</th>
            <td>{lookText(on, format)}</td>
            <td>
              {lookText(
                test.off.find(({ by }) => by === on.by),
                format,
              )}
            </td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}

const BY = { report: "its report", meter: "its meter", inverter: "the inverter’s power" } as const;
const RESULTS = {
  pending: "not yet",
  "not-seen": "not seen",
  unclear: "unclear: something else was switched",
  "not-measured": "not measured",
} as const;

function lookText(look: Look | undefined, format: Format): string {
  if (look === undefined) return "";
  const { result, afterS, stepW } = look;
  if (result !== "seen") return RESULTS[result];
  const power = stepW === null ? "" : `, ${format.power(stepW)}`;
  return `seen after ${format.quantity(afterS ?? 0, "s")}${power}`;
}
