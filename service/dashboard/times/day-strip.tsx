/** One day from midnight to midnight; each stretch is told by its letter and pattern as well. */
import type { DayAdviceView, StretchView } from "../../guidance-view.ts";
import { useWidth } from "../use-width.ts";
import { GRADE_LETTERS } from "./grades.ts";

const HEIGHT = 58;
const BAR = { top: 12, height: 26 } as const;
const DAY_MINUTES = 1440;
const MINUTES_PER_HOUR = 60;
const HOURS_SHOWN = [0, 6, 12, 18, 24];
/** A narrower stretch has no room for its letter. */
const LETTER_FROM_PX = 14;
const LETTER_UP_PX = 8;

export function DayStrip({ day, id }: { readonly day: DayAdviceView; readonly id: string }) {
  const [ref, width] = useWidth();
  const x = (minute: number): number => (minute / DAY_MINUTES) * width;
  return (
    <div ref={ref} class="day-strip">
      {width === 0 ? null : (
        <svg width={width} height={HEIGHT} aria-hidden="true" focusable="false">
          <Patterns id={id} />
          <rect class="unknown" x={0} y={BAR.top} width={width} height={BAR.height} />
          {day.stretches.map((stretch) => (
            <Stretch key={stretch.from} {...{ stretch, x, id }} />
          ))}
          {day.best === null ? null : <Best atX={x(minuteOf(day.best.local))} />}
          {HOURS_SHOWN.map((hour) => (
            <text
              key={hour}
              class={hour === 0 ? "first" : hour === 24 ? "last" : "hour"}
              x={x(hour * MINUTES_PER_HOUR)}
              y={HEIGHT - 4}
            >
              {hour}
            </text>
          ))}
        </svg>
      )}
    </div>
  );
}

/** Ids are the document's: each strip has patterns of its own. */
function Patterns({ id }: { readonly id: string }) {
  return (
    <defs>
      <pattern id={`so-so-${id}`} width="7" height="7" patternUnits="userSpaceOnUse">
        <path class="hatch so-so" d="M0 7 L7 0" />
      </pattern>
      <pattern id={`costly-${id}`} width="6" height="6" patternUnits="userSpaceOnUse">
        <path class="hatch costly" d="M0 0 L6 6 M0 6 L6 0" />
      </pattern>
    </defs>
  );
}

interface StretchProps {
  readonly stretch: StretchView;
  readonly x: (minute: number) => number;
  readonly id: string;
}

function Stretch({ stretch, x, id }: StretchProps) {
  const { grade, fromLocal, toLocal } = stretch;
  const left = x(minuteOf(fromLocal));
  const width = Math.max(0, x(minuteOf(toLocal)) - left);
  const isHatched = grade === "so-so" || grade === "costly";
  const place = { x: left, y: BAR.top, width, height: BAR.height };
  return (
    <g class={`stretch ${grade}`}>
      <rect class="ground" {...place} />
      {isHatched ? <rect {...place} fill={`url(#${grade}-${id})`} /> : null}
      {width < LETTER_FROM_PX ? null : (
        <>
          <rect
            class="letter-ground"
            x={left + width / 2 - LETTER_UP_PX}
            y={BAR.top + BAR.height / 2 - LETTER_UP_PX}
            width={2 * LETTER_UP_PX}
            height={2 * LETTER_UP_PX}
          />
          <text class="letter" x={left + width / 2} y={BAR.top + BAR.height / 2 + 5}>
            {GRADE_LETTERS[grade]}
          </text>
        </>
      )}
    </g>
  );
}

function Best({ atX }: { readonly atX: number }) {
  return <path class="best" d={`M${String(atX)} ${String(BAR.top)} l-6 -10 h12 z`} />;
}

/** @param local - Such as 11:40; 24:00 is the end of the day. */
function minuteOf(local: string): number {
  const [hour, minute] = local.split(":").map(Number);
  return (hour ?? 0) * MINUTES_PER_HOUR + (minute ?? 0);
}
