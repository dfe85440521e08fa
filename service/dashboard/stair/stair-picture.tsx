/** The stair as a picture; the list beside it says the same in words. */
import type { Format } from "../format.ts";
import { useWidth } from "../use-width.ts";
import { spreadLabels } from "./labels.ts";
import type { Stair, Step } from "./steps.ts";

/** All in pixels of the page, so that letters keep their size. */
const PLACE = { top: 34, bottom: 12, left: 54, right: 84 } as const;
const HEIGHT = { narrow: 330, wide: 430 } as const;
const NARROW_BELOW = 560;
const LABEL_APART = 34;
const GAP = 3;
const HATCH_APART = 7;
const WORD_FROM = 92;
const BADGE = { below: 26, foot: 16, radius: 12, width: 88 } as const;

interface Frame {
  readonly stair: Stair;
  readonly format: Format;
  readonly width: number;
  readonly height: number;
  readonly y: (value: number) => number;
}

export function StairPicture({
  stair,
  format,
}: {
  readonly stair: Stair;
  readonly format: Format;
}) {
  const [ref, width] = useWidth();
  const height = width < NARROW_BELOW ? HEIGHT.narrow : HEIGHT.wide;
  const span = stair.top - stair.bottom;
  const room = height - PLACE.top - PLACE.bottom;
  const y = (value: number): number => {
    const share = Math.min(1, Math.max(0, (value - stair.bottom) / span));
    return height - PLACE.bottom - share * room;
  };
  const frame: Frame = { stair, format, width, height, y };
  return (
    <div ref={ref} class="stair" style={{ minHeight: `${String(height)}px` }}>
      {width === 0 ? null : (
        <svg width={width} height={height} aria-hidden="true" focusable="false">
          <Scale {...frame} />
          <Steps frame={frame} isShown={({ state }) => state !== "on"} />
          <Water {...frame} />
          <Steps frame={frame} isShown={({ state }) => state === "on"} />
          <Surface {...frame} />
          <Marks {...frame} />
          {stair.steps.map((step, index) => (
            <Badge key={step.id} frame={frame} step={step} index={index} />
          ))}
        </svg>
      )}
    </div>
  );
}

function levelText({ stair, format }: Frame, value: number): string {
  return stair.kind === "charge" ? format.share(value) : format.voltage(value);
}

function Scale(frame: Frame) {
  const { stair, y, width } = frame;
  const step = stair.kind === "charge" ? 0.1 : 1;
  const first = Math.ceil(stair.bottom / step - 1e-9);
  const count = Math.floor(stair.top / step + 1e-9) - first + 1;
  const ticks = Array.from({ length: count }, (_, index) => (first + index) * step);
  return (
    <g class="scale">
      {ticks.map((value) => (
        <g key={value}>
          <path d={`M${String(PLACE.left)} ${at(y(value))}H${String(width - PLACE.right)}`} />
          <text x={PLACE.left - 8} y={y(value) + 4}>
            {levelText(frame, value)}
          </text>
        </g>
      ))}
    </g>
  );
}

function columnOf(
  { stair, width }: Frame,
  index: number,
): { readonly x: number; readonly w: number } {
  const w = (width - PLACE.left - PLACE.right) / stair.steps.length;
  return { x: PLACE.left + index * w + GAP, w: w - 2 * GAP };
}

interface StepProps {
  readonly frame: Frame;
  readonly step: Step;
  readonly index: number;
}

/** What waits lies under the water; what runs stands out of it. */
function Steps(props: { readonly frame: Frame; readonly isShown: (step: Step) => boolean }) {
  const { frame, isShown } = props;
  return (
    <>
      {frame.stair.steps.map((step, index) =>
        isShown(step) ? <StepPicture key={step.id} {...{ frame, step, index }} /> : null,
      )}
    </>
  );
}

function StepPicture({ frame, step, index }: StepProps) {
  const { x, w } = columnOf(frame, index);
  const [startY, stopY] = [frame.y(step.start), frame.y(step.stop)];
  const foot = frame.height - PLACE.bottom;
  return (
    <g class={`step ${step.state}`}>
      <rect class="body" x={x} y={startY} width={w} height={foot - startY} />
      <path class="between" d={hatch({ x, w, top: startY, bottom: stopY })} />
      <path class="stop" d={`M${at(x)} ${at(stopY)}h${at(w)}`} />
      <path class="tread" d={`M${at(x)} ${at(startY)}h${at(w)}`} />
    </g>
  );
}

/** Slanted lines within a box: where the load keeps on what it does. */
function hatch(box: { x: number; w: number; top: number; bottom: number }): string {
  const { x, w, top, bottom } = box;
  const high = bottom - top;
  const lines: string[] = [];
  for (let from = x - high; from < x + w; from += HATCH_APART) {
    const [left, right] = [Math.max(from, x), Math.min(from + high, x + w)];
    lines.push(
      `M${at(left)} ${at(bottom - (left - from))}L${at(right)} ${at(bottom - (right - from))}`,
    );
  }
  return lines.join("");
}

function Water({ stair, y, width, height }: Frame) {
  if (stair.level === null) return null;
  const [left, right, level] = [PLACE.left, width - PLACE.right, y(stair.level)];
  const high = height - PLACE.bottom - level;
  return <rect class="water" x={left} y={level} width={right - left} height={high} />;
}

function Surface({ stair, y, width }: Frame) {
  if (stair.level === null) return null;
  const d = `M${String(PLACE.left)} ${at(y(stair.level))}H${String(width - PLACE.right)}`;
  return <path class="surface" d={d} />;
}

function Marks(frame: Frame) {
  const { stair, y, width, height } = frame;
  const marks = [
    { key: "floor", name: "floor", value: stair.floor },
    { key: "curve", name: "rule curve", value: stair.curve },
    { key: "level", name: "battery", value: stair.level },
  ].flatMap(({ key, name, value }) => (value === null ? [] : [{ key, name, value }]));
  const places = spreadLabels(
    marks.map(({ key, value }) => ({ key, wantedY: y(value) })),
    { apart: LABEL_APART, top: 14, bottom: height - 20 },
  );
  const right = width - PLACE.right;
  return (
    <g>
      {marks.map(({ key, name, value }) => {
        const labelY = places.find((place) => place.key === key)?.y ?? y(value);
        const across =
          key === "level" ? "" : `M${String(PLACE.left)} ${at(y(value))}H${String(right)}`;
        return (
          <g key={key} class={`mark ${key}`}>
            <path
              d={`${across}M${String(right)} ${at(y(value))}L${String(right + 8)} ${at(labelY)}`}
            />
            <text x={right + 12} y={labelY - 2}>
              {name}
            </text>
            <text class="figure" x={right + 12} y={labelY + 14}>
              {levelText(frame, value)}
            </text>
          </g>
        );
      })}
    </g>
  );
}

const WORDS = { on: "on", waiting: "waits", held: "held off" } as const;

/** Stands in the step, under its hatching, where neither water nor rule curve crosses it. */
function Badge({ frame, step, index }: StepProps) {
  const { x, w } = columnOf(frame, index);
  const hasWord = w >= WORD_FROM;
  const middle = x + w / 2;
  const y = Math.min(frame.y(step.stop) + BADGE.below, frame.height - PLACE.bottom - BADGE.foot);
  const left = hasWord ? middle - BADGE.width / 2 + BADGE.radius : middle;
  return (
    <g class={`badge ${step.state}`}>
      {hasWord ? (
        <rect
          x={left - BADGE.radius}
          y={y - BADGE.radius}
          width={BADGE.width}
          height={2 * BADGE.radius}
          rx={BADGE.radius}
        />
      ) : null}
      <circle cx={left} cy={y} r={BADGE.radius} />
      <text class="number" x={left} y={y + 4.5}>
        {step.number}
      </text>
      {hasWord ? (
        <text x={left + 18} y={y + 4.5}>
          {WORDS[step.state]}
        </text>
      ) : null}
    </g>
  );
}

function at(value: number): string {
  return value.toFixed(1);
}
