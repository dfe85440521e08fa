/** One day: its ribbon, which part of it is shown, and the figures of one minute in words. */
import { useId, useState } from "preact/hooks";
import type { Format } from "../format.ts";
import { loadClass, Ribbon } from "./ribbon.tsx";
import type { OutlookLine } from "./outlook-line.ts";
import { instantOf, moved, wholeDay, zoomed } from "./ribbon-day.ts";
import type { RibbonDay, Series, Span } from "./ribbon-day.ts";

interface Props {
  readonly day: RibbonDay;
  readonly marks: readonly number[];
  readonly floorFraction: number;
  readonly outlook: OutlookLine | null;
  readonly format: Format;
  /** Another one stands above it on the page. */
  readonly isSecond?: boolean;
}

const NOON = 720;

export function DayPicture(props: Props) {
  const { day, marks, floorFraction, outlook, format, isSecond = false } = props;
  const [span, setSpan] = useState<Span>(() => wholeDay(day));
  const [picked, setPicked] = useState(NOON);
  const name = isSecond ? `${day.date}, replayed` : day.date;
  const cursor = Math.min(span.to - 1, Math.max(span.from, picked));
  return (
    <>
      <figure class="card" aria-label={`Ribbon of ${name}; its figures follow as text`}>
        <Ribbon
          {...{ day, span, cursor, marks, floorFraction, outlook, format, isSecond }}
          pick={setPicked}
        />
        <Legend day={day} hasOutlook={outlook !== null} />
      </figure>
      <SpanControls {...{ day, span, cursor, setSpan, format }} pick={setPicked} />
      <Readout {...{ day, format, isSecond }} minute={cursor} />
    </>
  );
}

const BAR_NAMES = { run: "ran on request", hold: "held off on request" } as const;
const ASKED_TEXTS = { run: ", on request", hold: ", held off on request" } as const;

function askedText(asked: "run" | "hold" | null | undefined): string {
  return asked === null || asked === undefined ? "" : ASKED_TEXTS[asked];
}

function Legend({ day, hasOutlook }: { readonly day: RibbonDay; readonly hasOutlook: boolean }) {
  const keys = [
    { className: "base", name: "everyday use" },
    ...day.loads.map(({ label }, index) => ({ className: loadClass(index), name: label })),
    { className: "sources", name: "what the sources gave" },
    ...(day.potentialW === null ? [] : [{ className: "unused", name: "thrown away" }]),
    { className: "soc", name: day.besideSocFraction === null ? "battery" : "battery, changed" },
    ...(hasOutlook ? [{ className: "outlook", name: "outlook, with no opportunity load" }] : []),
    ...(day.besideSocFraction === null
      ? []
      : [{ className: "soc-beside", name: "battery, as set" }]),
    { className: "curve", name: "rule curve" },
    { className: "floor", name: "floor" },
    ...(["run", "hold"] as const)
      .filter((wants) => day.loads.some(({ asked }) => asked.includes(wants)))
      .map((wants) => ({ className: `bar ${wants}`, name: BAR_NAMES[wants] })),
  ];
  return (
    <ul class="legend">
      {keys.map(({ className, name }) => (
        <li key={className}>
          <svg width="28" height="14" class="ribbon-key" aria-hidden="true">
            <path class={className} d={keyPath(className)} />
          </svg>{" "}
          {name}
        </li>
      ))}
    </ul>
  );
}

const LINES = ["sources", "soc", "soc-beside", "outlook", "curve", "floor"];

function keyPath(className: string): string {
  if (className.startsWith("bar")) return "M0.5 5H27.5V9H0.5Z";
  return LINES.includes(className) ? "M0 7H28" : "M0 0H28V14H0Z";
}

interface ControlsProps extends Pick<Props, "day" | "format"> {
  readonly span: Span;
  readonly cursor: number;
  readonly setSpan: (span: Span) => void;
  readonly pick: (minute: number) => void;
}

function SpanControls({ day, span, cursor, setSpan, pick, format }: ControlsProps) {
  const { lengthMin } = day;
  const zoom = (factor: number) => setSpan(zoomed(span, { factor, around: cursor, lengthMin }));
  const id = useId();
  return (
    <div class="span">
      <label for={id}>Time of day</label>
      <input
        id={id}
        type="range"
        min={span.from}
        max={span.to - 1}
        value={cursor}
        aria-valuetext={format.time(instantOf(day, cursor))}
        onInput={({ currentTarget }) => pick(Number(currentTarget.value))}
      />
      <button type="button" onClick={() => zoom(0.5)}>
        Closer
      </button>
      <button type="button" onClick={() => zoom(2)}>
        Wider
      </button>
      <button type="button" onClick={() => setSpan(moved(span, -0.5, lengthMin))}>
        Earlier
      </button>
      <button type="button" onClick={() => setSpan(moved(span, 0.5, lengthMin))}>
        Later
      </button>
    </div>
  );
}

function Readout({
  day,
  minute,
  format,
  isSecond,
}: Pick<Props, "day" | "format"> & { readonly minute: number; readonly isSecond: boolean }) {
  const id = useId();
  const when = `At ${format.time(instantOf(day, minute))}`;
  const said = (series: Series, write: (value: number) => string): string => {
    const value = series[minute] ?? null;
    return value === null ? "not known" : write(value);
  };
  const rows = [
    ...(day.potentialW === null
      ? []
      : [["could have been had", said(day.potentialW, format.power)] as const]),
    ["the sources gave", said(day.sourcesW, format.power)] as const,
    ["everyday use", said(day.baseW, format.power)] as const,
    ...day.loads.map(
      ({ label, powerW, asked }) =>
        [label, `${said(powerW, format.power)}${askedText(asked[minute])}`] as const,
    ),
    ["battery", said(day.socFraction, format.share)] as const,
    ["rule curve", said(day.ruleCurveFraction, format.share)] as const,
  ];
  return (
    <section aria-labelledby={id}>
      {isSecond ? <h4 id={id}>{when}, replayed</h4> : <h2 id={id}>{when}</h2>}
      <dl class="readout">
        {rows.map(([name, value]) => (
          <div key={name}>
            <dt>{name}</dt>
            <dd>{value}</dd>
          </div>
        ))}
      </dl>
    </section>
  );
}
