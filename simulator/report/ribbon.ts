/**
 * The ribbon of one day as SVG. Above: power from the bottom up, who took it, and hatched on top
 * what nobody took, under the line of what the sources could have given. Below: the state of charge
 * against rule curve and floor. Every area is told by colour, by its place and by its name.
 */
import { escaped } from "./escape.ts";
import { SLOT_MINUTES } from "./ribbon-record.ts";
import type { RibbonDay } from "./ribbon-record.ts";

export interface RibbonFrame {
  readonly loadLabels: readonly string[];
  /** Top of the power scale, the same for every day. [W] > 0 */
  readonly powerMaxW: number;
  /** [1] 0…1 */
  readonly floorFraction: number;
  /** Foot of the charge's scale, the same for every day. [1] 0…1 */
  readonly socMinFraction: number;
}

/** Measures of the drawing in its own units; it scales with the page. */
const WIDTH = 960;
const LEFT = 84;
const RIGHT = 925;
/** Marks of starts stand above it, in three rows, so that loads that start together show. */
const POWER = { top: 44, bottom: 224 } as const;
const CHARGE = { top: 264, bottom: 344 } as const;
const HEIGHT = 376;
const MARK_ROWS = 3;
const MARK_HEIGHT = 12;
/** Colours for this many loads; further ones repeat them, and have their names. */
const LOAD_COLOURS = 5;

/** CSS class of a load's areas and marks. */
export function loadClass(index: number): string {
  return `load-${String(index % LOAD_COLOURS)}`;
}

export function ribbonSvg(day: RibbonDay, frame: RibbonFrame): string {
  const y = (powerW: number): number => {
    const share = Math.min(1, powerW / frame.powerMaxW);
    return POWER.bottom - share * (POWER.bottom - POWER.top);
  };
  const stack = stackOf(day, frame);
  const parts = stack.map(({ className, name, fromW, toW }) => {
    const outline = area(fromW, toW, y);
    return outline === "" ? "" : `<path class="${className}" d="${outline}">${title(name)}</path>`;
  });
  return [
    `<svg viewBox="0 0 ${WIDTH} ${HEIGHT}" role="img" aria-hidden="true" focusable="false">`,
    grid(frame, y),
    ...parts,
    `<path class="potential" d="${line(day.potentialW, y)}">${title("on offer")}</path>`,
    ...day.starts.map(({ loadIndex, minute }) => startMark(loadIndex, minute, frame)),
    charge(day, frame),
    "</svg>",
  ].join("\n");
}

interface Layer {
  readonly className: string;
  readonly name: string;
  readonly fromW: Float64Array;
  readonly toW: Float64Array;
}

function stackOf(day: RibbonDay, frame: RibbonFrame): readonly Layer[] {
  const named = [
    { className: "base", name: "everyday use", values: day.baseW },
    ...day.loadsW.map((values, index) => ({
      className: loadClass(index),
      name: frame.loadLabels[index] ?? "",
      values,
    })),
    { className: "charge", name: "into the battery", values: day.chargeW },
  ];
  let fromW = new Float64Array(day.baseW.length);
  const stacked = named.map(({ className, name, values }) => {
    const toW = fromW.map((below, slot) => below + (values[slot] ?? 0));
    const layer = { className, name, fromW, toW };
    fromW = toW;
    return layer;
  });
  // Hangs from the line of the potential: between it and the others lie the inverter's losses.
  const usedW = day.potentialW.map((powerW, slot) => powerW - (day.unusedW[slot] ?? 0));
  const unused = { className: "unused", name: "thrown away", fromW: usedW, toW: day.potentialW };
  return [...stacked, unused];
}

function x(minute: number): number {
  return LEFT + (minute / 1440) * (RIGHT - LEFT);
}

function at(value: number): string {
  return value.toFixed(1);
}

/** Runs of known slots: a hole in the record stays a hole in the picture. */
function runs(values: Float64Array): readonly (readonly [from: number, to: number])[] {
  const found: [number, number][] = [];
  for (const [slot, value] of values.entries()) {
    if (Number.isNaN(value)) continue;
    const last = found.at(-1);
    if (last !== undefined && last[1] === slot) last[1] = slot + 1;
    else found.push([slot, slot + 1]);
  }
  return found;
}

function steps(values: Float64Array, [from, to]: readonly [number, number], y: Scale): string[] {
  const points: string[] = [];
  for (let slot = from; slot < to; slot += 1) {
    const height = at(y(values[slot] ?? 0));
    points.push(`${at(x(slot * SLOT_MINUTES))} ${height}`);
    points.push(`${at(x((slot + 1) * SLOT_MINUTES))} ${height}`);
  }
  return points;
}

type Scale = (value: number) => number;

function line(values: Float64Array, y: Scale): string {
  return runs(values)
    .map((run) => `M${steps(values, run, y).join("L")}`)
    .join("");
}

function area(fromW: Float64Array, toW: Float64Array, y: Scale): string {
  if (toW.every((value, slot) => !(value > (fromW[slot] ?? 0)))) return "";
  return runs(toW)
    .map((run) => {
      const below = steps(fromW, run, y).reverse();
      return `M${[...steps(toW, run, y), ...below].join("L")}Z`;
    })
    .join("");
}

function title(text: string): string {
  return `<title>${escaped(text)}</title>`;
}

const HOURS = [0, 3, 6, 9, 12, 15, 18, 21, 24];

function grid(frame: RibbonFrame, y: Scale): string {
  const hours = HOURS.map((hour) => {
    const place = at(x(hour * 60));
    const text = `${String(hour).padStart(2, "0")}:00`;
    return (
      `<path class="grid" d="M${place} ${POWER.top}V${POWER.bottom}` +
      `M${place} ${CHARGE.top}V${CHARGE.bottom}"/>` +
      `<text class="hour" x="${place}" y="${HEIGHT - 6}">${text}</text>`
    );
  });
  const stepW = niceStepW(frame.powerMaxW);
  const powers: string[] = [];
  for (let powerW = 0; powerW <= frame.powerMaxW + 1; powerW += stepW) {
    const height = at(y(powerW));
    powers.push(`<path class="grid" d="M${LEFT} ${height}H${RIGHT}"/>`);
    powers.push(`<text x="${LEFT - 6}" y="${at(y(powerW) + 4)}">${powerText(powerW)}</text>`);
  }
  return [...hours, ...powers].join("\n");
}

/** Two to five lines on the scale. */
function niceStepW(maxW: number): number {
  const steps = [50, 100, 250, 500, 1000, 2000, 5000, 10_000, 20_000, 50_000];
  return steps.find((stepW) => maxW / stepW <= 4.5) ?? 100_000;
}

function powerText(powerW: number): string {
  return powerW < 1000 && powerW > 0 ? `${String(powerW)} W` : `${String(powerW / 1000)} kW`;
}

function startMark(loadIndex: number, minute: number, frame: RibbonFrame): string {
  const place = x(minute);
  const top = 4 + (loadIndex % MARK_ROWS) * (MARK_HEIGHT + 1);
  const [left, right] = [at(place - 6), at(place + 6)];
  const name = `${frame.loadLabels[loadIndex] ?? ""} starts at ${clock(minute)}`;
  return (
    `<path class="start ${loadClass(loadIndex)}" d="M${left} ${top}H${right}` +
    `L${at(place)} ${top + MARK_HEIGHT}Z">${title(name)}</path>`
  );
}

export function clock(minute: number): string {
  const [hour, rest] = [Math.floor(minute / 60), Math.floor(minute % 60)];
  return `${String(hour).padStart(2, "0")}:${String(rest).padStart(2, "0")}`;
}

function charge(day: RibbonDay, frame: RibbonFrame): string {
  const y = (fraction: number): number => {
    const share = (fraction - frame.socMinFraction) / (1 - frame.socMinFraction);
    return CHARGE.bottom - Math.max(0, share) * (CHARGE.bottom - CHARGE.top);
  };
  const scale = [frame.socMinFraction, 1].map((fraction) => {
    const height = y(fraction);
    return (
      `<path class="grid" d="M${LEFT} ${at(height)}H${RIGHT}"/>` +
      `<text x="${LEFT - 6}" y="${at(height + 4)}">${(fraction * 100).toFixed(0)} %</text>`
    );
  });
  const floor = at(y(frame.floorFraction));
  return [
    ...scale,
    `<path class="floor" d="M${LEFT} ${floor}H${RIGHT}">${title("floor")}</path>`,
    `<path class="curve" d="${line(day.ruleCurveFraction, y)}">${title("rule curve")}</path>`,
    `<path class="soc" d="${line(day.socFraction, y)}">${title("state of charge")}</path>`,
  ].join("\n");
}
