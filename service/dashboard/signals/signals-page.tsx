/** Signals: what of the site can be seen, what is wrong with the rest, and what obeys. */
import type { SignalStateView, StateView } from "../../state-view.ts";
import type { Format } from "../format.ts";
import { asSentence } from "../sentence.ts";
import type { Session } from "../session/session.ts";
import { Learned } from "./learned.tsx";
import { SwitchTests } from "./switch-tests.tsx";

interface Props {
  readonly state: StateView;
  readonly session: Session;
  readonly format: Format;
}

export function SignalsPage({ state, session, format }: Props) {
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
      <Arrivals state={state} format={format} />
      {quiet.length === 0 ? null : (
        <section aria-labelledby="quiet-heading">
          <h2 id="quiet-heading">Not alive</h2>
          <SignalTable signals={quiet} format={format} label="Signals that are not alive" />
        </section>
      )}
      <SwitchTests state={state} session={session} format={format} />
      <section aria-labelledby="alive-heading">
        <h2 id="alive-heading">Alive</h2>
        <SignalTable signals={alive} format={format} label="Signals that are alive" />
      </section>
      <Learned format={format} />
    </>
  );
}

/** All that the broker has brought, used or not. */
function Arrivals({ state, format }: Omit<Props, "session">) {
  const { receivedCount, ignoredCounts } = state.counters;
  const unused = Object.entries(ignoredCounts).filter(([, count]) => count > 0);
  const list = unused.map(([why, count]) => `${why} ${format.number(count)}`).join(", ");
  return (
    <p>
      {format.number(receivedCount)} messages since the start
      {list === "" ? "." : `; values not used, by reason: ${list}.`}
    </p>
  );
}

const QUALITIES: Readonly<Record<SignalStateView["quality"], string>> = {
  fresh: "fresh",
  frozen: "does not move",
  stale: "too old",
  retained: "kept by the broker",
  implausible: "not to be believed",
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
      <table class="signals" role="table">
        <thead role="rowgroup">
          <tr role="row">
            <th scope="col" role="columnheader">
              Signal
            </th>
            <th scope="col" role="columnheader">
              Value
            </th>
            <th scope="col" role="columnheader">
              Quality
            </th>
            <th scope="col" role="columnheader">
              Age
            </th>
            <th scope="col" role="columnheader">
              Topic
            </th>
          </tr>
        </thead>
        <tbody role="rowgroup">
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
  const { advice } = signal;
  return (
    <tr role="row">
      <th scope="row" role="rowheader">
        {signal.signal}
      </th>
      <td class="figure" role="cell">
        {valueText(signal, format)}
      </td>
      <td role="cell">
        {QUALITIES[signal.quality]}
        {advice === null ? null : <small class="advice">{asSentence(advice)}</small>}
        {ignored.length === 0 ? null : (
          <small class="advice">
            Not used: {ignored.map(([why, count]) => `${why} ${String(count)}`).join(", ")}.
          </small>
        )}
      </td>
      <td class="figure" role="cell">
        {signal.ageS === null ? "" : format.span(signal.ageS)}
      </td>
      <td class="topic" role="cell">
        {topics.join(", ")}
      </td>
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
  return unit === null || unit === "1" ? format.number(value) : format.quantity(value, unit);
}
