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
}

const NOON = 720;

export function DayPicture({ day, marks, floorFraction, outlook, format }: Props) {
  const [span, setSpan] = useState<Span>(() => wholeDay(day));
  const [picked, setPicked] = useState(NOON);
  const cursor = Math.min(span.to - 1, Math.max(span.from, picked));
  return (
    <>
      <figure class="card" aria-label={`Ribbon of ${day.date}; its figures follow as text`}>
        <Ribbon
          {...{ day, span, cursor, marks, floorFraction, outlook, format }}
          pick={setPicked}
        />
        <Legend day={day} hasOutlook={outlook !== null} />
      </figure>
      <SpanControls {...{ day, span, cursor, setSpan, format }} pick={setPicked} />
      <Readout day={day} minute={cursor} format={format} />
    </>
  );
}

function Legend({ day, hasOutlook }: { readonly day: RibbonDay; readonly hasOutlook: boolean }) {
  const keys = [
    { className: "base", name: "everyday use" },
    ...day.loads.map(({ label }, index) => ({ className: loadClass(index), name: label })),
    { className: "sources", name: "what the sources gave" },
    ...(day.potentialW === null ? [] : [{ className: "unused", name: "thrown away" }]),
    { className: "soc", name: "battery" },
    ...(hasOutlook ? [{ className: "outlook", name: "outlook, with no opportunity load" }] : []),
    { className: "curve", name: "rule curve" },
    { className: "floor", name: "floor" },
  ];
  return (
    <ul class="legend">
      {keys.map(({ className, name }) => (
        <li key={className}>
          <svg width="28" height="14" class="ribbon-key" aria-hidden="true">
            <path class={className} d={isLine(className) ? "M0 7H28" : "M0 0H28V14H0Z"} />
          </svg>{" "}
          {name}
        </li>
      ))}
    </ul>
  );
}

function isLine(className: string): boolean {
  return ["sources", "soc", "outlook", "curve", "floor"].includes(className);
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
}: Pick<Props, "day" | "format"> & { readonly minute: number }) {
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
    ...day.loads.map(({ label, powerW }) => [label, said(powerW, format.power)] as const),
    ["battery", said(day.socFraction, format.share)] as const,
    ["rule curve", said(day.ruleCurveFraction, format.share)] as const,
  ];
  return (
    <section aria-labelledby="readout-heading">
      <h2 id="readout-heading">At {format.time(instantOf(day, minute))}</h2>
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
