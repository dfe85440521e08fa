/** Signals: which mapped values arrive, and what is wrong with those that do not. */
import type { SignalStateView, StateView } from "../../state-view.ts";
import type { Format } from "../format.ts";

interface Props {
  readonly state: StateView;
  readonly format: Format;
}

export function SignalsPage({ state, format }: Props) {
  const mapped = state.signals.filter(({ quality }) => quality !== "unmapped");
  const alive = mapped.filter(({ quality }) => quality === "fresh");
  const quiet = mapped.filter(({ quality }) => quality !== "fresh");
  return (
    <>
      <h1>Signals</h1>
      <p role="status">
        {String(alive.length)} of {String(mapped.length)} mapped signals are alive.
        {state.isBrokerConnected ? "" : " The broker is not connected."}
      </p>
      {quiet.length === 0 ? null : (
        <section aria-labelledby="quiet-heading">
          <h2 id="quiet-heading">Not alive</h2>
          <SignalTable signals={quiet} format={format} label="Signals that are not alive" />
        </section>
      )}
      <section aria-labelledby="alive-heading">
        <h2 id="alive-heading">Alive</h2>
        <SignalTable signals={alive} format={format} label="Signals that are alive" />
      </section>
    </>
  );
}

const QUALITIES: Readonly<Record<SignalStateView["quality"], string>> = {
  fresh: "fresh",
  frozen: "does not move while others do",
  stale: "too old",
  retained: "kept by the broker, age unknown",
  implausible: "outside its range",
  waiting: "never came",
  unmapped: "not mapped",
};

interface TableProps {
  readonly signals: readonly SignalStateView[];
  readonly format: Format;
  readonly label: string;
}

function SignalTable({ signals, format, label }: TableProps) {
  return (
    <div class="wide" role="region" aria-label={label} tabIndex={0}>
      <table>
        <thead>
          <tr>
            <th scope="col">Signal</th>
            <th scope="col">Value</th>
            <th scope="col">Quality</th>
            <th scope="col">Age</th>
            <th scope="col">Topic</th>
          </tr>
        </thead>
        <tbody>
          {signals.map((signal) => (
            <SignalRow key={signal.signal} signal={signal} format={format} />
          ))}
        </tbody>
      </table>
    </div>
  );
}

function SignalRow({
  signal,
  format,
}: {
  readonly signal: SignalStateView;
  readonly format: Format;
}) {
  const topics = signal.sensors.flatMap((sensor) => sensor.topics);
  const ignored = Object.entries(signal.ignoredCounts);
  return (
    <tr>
      <th scope="row">{signal.signal}</th>
      <td class="figure">{valueText(signal, format)}</td>
      <td>
        {QUALITIES[signal.quality]}
        {ignored.length === 0 ? null : (
          <small>
            {" "}
            (not understood: {ignored.map(([why, count]) => `${why} ${String(count)}`).join(", ")})
          </small>
        )}
      </td>
      <td class="figure">{signal.ageS === null ? "" : format.span(signal.ageS)}</td>
      <td class="topic">{topics.join(", ")}</td>
    </tr>
  );
}

/** Signals of these are shares; other numbers without a unit are counts. */
const SHARE = /soc|level|duty/iu;

function valueText({ signal, value, unit }: SignalStateView, format: Format): string {
  if (value === null) return "";
  if (typeof value === "boolean") return value ? "yes" : "no";
  if (typeof value === "string") return value;
  if (unit === "1" && SHARE.test(signal)) return format.share(value);
  return unit === null || unit === "1" ? format.number(value) : `${format.number(value)} ${unit}`;
}
