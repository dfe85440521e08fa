/**
 * The height at which a load starts or stops, over the day: the rule curve, the battery, and a line
 * that can be dragged. Keyboard and screen reader have the slider beside it.
 */
import type { RibbonDay } from "../ribbon-day.ts";
import { means, wholeDay } from "../ribbon-day.ts";
import { at, linePath } from "../ribbon-path.ts";
import type { Format } from "../../format.ts";
import { useWidth } from "../../use-width.ts";
import { HEIGHT_MAX_PERCENT } from "./choices.ts";

interface Props {
  readonly day: RibbonDay;
  /** Over the rule curve; negative: under it. [%] */
  readonly percent: number;
  readonly pick: (percent: number) => void;
  readonly format: Format;
}

/** [px] */
const HEIGHT = 150;
const [TOP, FOOT, LEFT, RIGHT] = [12, 138, 58, 28];
const LABEL_PX = 14;
const PART_PX = 4;
const PERCENT = 100;

export function HeightPicture(props: Props) {
  const [ref, width] = useWidth();
  return (
    <div ref={ref} class="ribbon height" style={{ minHeight: `${String(HEIGHT)}px` }}>
      {width === 0 ? null : <Picture {...props} width={width} />}
    </div>
  );
}

function Picture({ day, percent, pick, format, width }: Props & { readonly width: number }) {
  const span = wholeDay(day);
  const count = Math.max(1, Math.floor((width - LEFT - RIGHT) / PART_PX));
  // It holds all day, whether that was recorded or not.
  const curve = extended(means(day.ruleCurveFraction, span, count));
  const soc = means(day.socFraction, span, count);
  const known = [...curve, ...soc].filter((value) => value !== null);
  const reach = HEIGHT_MAX_PERCENT / PERCENT;
  const foot = Math.max(0, Math.min(...known, 1) - (percent < 0 ? reach : 0.05));
  const y = (fraction: number): number => FOOT - ((fraction - foot) / (1 - foot)) * (FOOT - TOP);
  const across = {
    span,
    x: (minute: number) => LEFT + (minute / span.to) * (width - LEFT - RIGHT),
  };
  const marks = curve.map((value) => (value === null ? null : value + percent / PERCENT));
  const last = curve.at(-1) ?? null;
  if (last === null) return null;
  const markY = y(last + percent / PERCENT);
  const labels = [last + percent / PERCENT, last].filter(
    (fraction, place) => place === 0 || Math.abs(y(fraction) - markY) >= LABEL_PX,
  );
  const drag = (event: PointerEvent & { readonly currentTarget: SVGElement }): void => {
    if (event.buttons === 0 || event.currentTarget.ownerSVGElement === null) return;
    const { top } = event.currentTarget.ownerSVGElement.getBoundingClientRect();
    const fraction = foot + ((FOOT - (event.clientY - top)) / (FOOT - TOP)) * (1 - foot);
    pick((fraction - last) * PERCENT);
  };
  return (
    <svg width={width} height={HEIGHT} aria-hidden="true" focusable="false">
      {labels.map((fraction) => (
        <text key={fraction} x={LEFT - 6} y={y(fraction) + 4}>
          {format.share(fraction)}
        </text>
      ))}
      <path class="curve" d={linePath(across, curve, y)} />
      <path class="soc" d={linePath(across, soc, y)} />
      <path class="mark" d={linePath(across, marks, y)} />
      <g
        class="grip"
        onPointerDown={(event) => event.currentTarget.setPointerCapture(event.pointerId)}
        onPointerMove={drag}
      >
        <rect class="touch" x={0} y={markY - 16} width={width} height={32} />
        <path d={`M${at(width - RIGHT + 2)} ${at(markY)}l12 -9h12v18h-12Z`} />
      </g>
    </svg>
  );
}

/** What was known first or last, before and after. */
function extended(values: readonly (number | null)[]): readonly (number | null)[] {
  const first = values.findIndex((value) => value !== null);
  const last = values.findLastIndex((value) => value !== null);
  return values.map((value, place) => {
    if (place < first) return values[first] ?? null;
    return place > last ? (values[last] ?? null) : value;
  });
}
