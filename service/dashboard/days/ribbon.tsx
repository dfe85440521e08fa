/**
 * The ribbon of one day. Above: power, who took it from the bottom up, under the line of what the
 * sources gave, and hatched what they could have given besides. Below: the charge of the battery
 * against rule curve and floor.
 */
import type { Format } from "../format.ts";
import { useWidth } from "../use-width.ts";
import type { OutlookLine } from "./outlook-line.ts";
import { askedStretches, greatestW, instantOf, means } from "./ribbon-day.ts";
import type { RibbonDay, Series, Span } from "./ribbon-day.ts";
import { areaPath, at, linePath } from "./ribbon-path.ts";

/** [px] */
const PLACE = {
  left: 58,
  right: 24,
  powerTop: 22,
  powerFoot: 210,
  socTop: 240,
  socFoot: 330,
} as const;
const HEIGHT = 354;
const PART_PX = 3;
const HOUR = 60;
const LOAD_CLASSES = 5;

interface Props {
  readonly day: RibbonDay;
  readonly span: Span;
  /** Minute of the day. */
  readonly cursor: number;
  /** Minutes at which something was decided. */
  readonly marks: readonly number[];
  readonly floorFraction: number;
  /** To sunset; null: not of this day. */
  readonly outlook: OutlookLine | null;
  readonly format: Format;
  readonly pick: (minute: number) => void;
  /** Another ribbon of the page has the pattern of what was thrown away. */
  readonly isSecond?: boolean;
}

interface Frame extends Props {
  readonly width: number;
  readonly x: (minute: number) => number;
  readonly powerY: (powerW: number) => number;
  readonly socY: (fraction: number) => number;
  readonly parts: (series: Series) => (number | null)[];
}

/** Colours repeat after these; their names do not. */
export function loadClass(index: number): string {
  return `taken-${String(index % LOAD_CLASSES)}`;
}

export function Ribbon(props: Props) {
  const [ref, width] = useWidth();
  return (
    <div ref={ref} class="ribbon" style={{ minHeight: `${String(HEIGHT)}px` }}>
      {width === 0 ? null : <Picture {...frameOf(props, width)} />}
    </div>
  );
}

function frameOf(props: Props, width: number): Frame {
  const { day, span } = props;
  const room = width - PLACE.left - PLACE.right;
  const most = greatestW(day);
  const least = Math.min(props.floorFraction, ...day.socFraction.map((value) => value ?? 1)) - 0.05;
  const foot = Math.max(0, Math.floor(least * 10) / 10);
  const count = Math.max(1, Math.min(span.to - span.from, Math.floor(room / PART_PX)));
  return {
    ...props,
    width,
    x: (minute) => PLACE.left + ((minute - span.from) / (span.to - span.from)) * room,
    powerY: (powerW) =>
      PLACE.powerFoot - (Math.max(0, powerW) / most) * (PLACE.powerFoot - PLACE.powerTop),
    socY: (fraction) =>
      PLACE.socFoot - ((fraction - foot) / (1 - foot)) * (PLACE.socFoot - PLACE.socTop),
    parts: (series) => means(series, span, count),
  };
}

function Picture(frame: Frame) {
  const { day, width, span, cursor, x, powerY, socY, parts, pick } = frame;
  const cursorX = at(x(cursor + 0.5));
  const minuteAt = (clientX: number, left: number): number => {
    const share = (clientX - left - PLACE.left) / (width - PLACE.left - PLACE.right);
    const minute = Math.floor(span.from + share * (span.to - span.from));
    return Math.min(span.to - 1, Math.max(span.from, minute));
  };
  return (
    <svg
      width={width}
      height={HEIGHT}
      aria-hidden="true"
      focusable="false"
      onPointerMove={(event) => {
        pick(minuteAt(event.clientX, event.currentTarget.getBoundingClientRect().left));
      }}
    >
      {frame.isSecond === true ? null : (
        <defs>
          <pattern id="unused" width="7" height="7" patternUnits="userSpaceOnUse">
            <path class="unused-line" d="M-1 8L8 -1M-1 1L1 -1M6 8L8 6" />
          </pattern>
        </defs>
      )}
      <Grid {...frame} />
      <Stack {...frame} />
      <path class="sources" d={linePath(frame, parts(day.sourcesW), powerY)} />
      <path class="curve" d={linePath(frame, parts(day.ruleCurveFraction), socY)} />
      {day.besideSocFraction === null ? null : (
        <path class="soc-beside" d={linePath(frame, parts(day.besideSocFraction), socY)} />
      )}
      <path class="soc" d={linePath(frame, parts(day.socFraction), socY)} />
      <Outlook {...frame} />
      <Asked {...frame} />
      <Decisions {...frame} />
      <path class="cursor" d={`M${cursorX} ${String(PLACE.powerTop)}V${String(PLACE.socFoot)}`} />
    </svg>
  );
}

/** Dashed, for it has not happened; as far as it lies within what is shown. */
function Outlook({ outlook, span, x, socY }: Frame) {
  if (outlook === null) return null;
  const { fromMin, toMin, fromFraction, toFraction } = outlook;
  const fractionAt = (minute: number): number =>
    fromFraction + ((minute - fromMin) / (toMin - fromMin)) * (toFraction - fromFraction);
  const [from, to] = [Math.max(fromMin, span.from), Math.min(toMin, span.to)];
  if (from >= to) return null;
  const point = (minute: number): string => `${at(x(minute))} ${at(socY(fractionAt(minute)))}`;
  return <path class="outlook" d={`M${point(from)}L${point(to)}`} />;
}

/** A small mark over the ribbon for each decision; the list below it says which. */
function Decisions({ marks, span, x }: Frame) {
  const shown = marks.filter((minute) => minute >= span.from && minute < span.to);
  return (
    <path class="decision" d={shown.map((minute) => `M${at(x(minute) - 4)} 6h8l-4 9Z`).join("")} />
  );
}

/** Under the marks a bar for each stretch on request: filled, it ran; hollow, it stayed off. */
function Asked({ day, span, x }: Frame) {
  return (
    <g class="asked-bars">
      {day.loads.flatMap(({ id, asked }, index) =>
        askedStretches(asked).map(({ from, to, wants }) => {
          const [left, right] = [Math.max(span.from, from), Math.min(span.to, to)];
          if (right <= left) return null;
          const d = `M${at(x(left))} 16.5H${at(x(right))}v4H${at(x(left))}Z`;
          return (
            <path key={`${id} ${String(from)}`} class={`${wants} ${loadClass(index)}`} d={d} />
          );
        }),
      )}
    </g>
  );
}

function Stack(frame: Frame) {
  const { day, parts } = frame;
  const names = [
    { className: "base", series: day.baseW },
    ...day.loads.map(({ powerW }, index) => ({ className: loadClass(index), series: powerW })),
  ];
  const sources = parts(day.sourcesW);
  let below = sources.map(() => 0);
  const layers = names.map(({ className, series }) => {
    const from = below;
    below = parts(series).map((value, part) => (from[part] ?? 0) + Math.max(0, value ?? 0));
    return { className, d: areaPath(frame, { from, to: below }, frame.powerY) };
  });
  const potential = day.potentialW === null ? null : parts(day.potentialW);
  const unused =
    potential === null
      ? ""
      : areaPath(
          frame,
          {
            from: sources.map((value) => value ?? 0),
            to: potential.map((value, part) => Math.max(value ?? 0, sources[part] ?? 0)),
          },
          frame.powerY,
        );
  return (
    <>
      {layers.map(({ className, d }) => (
        <path key={className} class={className} d={d} />
      ))}
      <path class="unused" d={unused} />
    </>
  );
}

/** Lines at least this far apart. [px] */
const HOUR_PX = 56;
const HOUR_STEPS = [1, 2, 3, 6, 12];
const POWER_STEPS = [100, 250, 500, 1000, 2000, 5000, 10_000];

function Grid({ span, x, powerY, socY, width, day, floorFraction, format }: Frame) {
  const px = (x(HOUR) - x(0)) / 1;
  const step = (HOUR_STEPS.find((hours) => hours * px >= HOUR_PX) ?? 24) * HOUR;
  const first = Math.ceil(span.from / step) * step;
  const hours = Array.from(
    { length: Math.floor((span.to - first) / step) + 1 },
    (_, n) => first + n * step,
  );
  const most = greatestW(day);
  const powerStep = POWER_STEPS.find((powerW) => most / powerW <= 4.5) ?? 20_000;
  const powers = Array.from({ length: Math.floor(most / powerStep) + 1 }, (_, n) => n * powerStep);
  const across = (y: number): string =>
    `M${String(PLACE.left)} ${at(y)}H${at(width - PLACE.right)}`;
  return (
    <g class="scale">
      {hours.map((minute) => (
        <g key={minute}>
          <path d={`M${at(x(minute))} ${String(PLACE.powerTop)}V${String(PLACE.socFoot)}`} />
          <text class="hour" x={x(minute)} y={HEIGHT - 6}>
            {format.time(instantOf(day, minute))}
          </text>
        </g>
      ))}
      {powers.map((powerW) => (
        <g key={powerW}>
          <path d={across(powerY(powerW))} />
          <text x={PLACE.left - 6} y={powerY(powerW) + 4}>
            {format.power(powerW)}
          </text>
        </g>
      ))}
      {[floorFraction, 1].map((fraction) => (
        <text key={fraction} x={PLACE.left - 6} y={socY(fraction) + 4}>
          {format.share(fraction)}
        </text>
      ))}
      <path class="floor" d={across(socY(floorFraction))} />
    </g>
  );
}
