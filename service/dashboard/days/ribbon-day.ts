/** One day as the ribbon draws it, and which part of it. */
import type { DayView } from "../../past-desk.ts";

/** One value a minute from local midnight on; null: not known. */
export type Series = readonly (number | null)[];

export interface RibbonDay {
  /** Local date. */
  readonly date: string;
  /** Its first instant. [ms] */
  readonly fromMs: number;
  /** 1440, but for the two days a year on which clocks are put forward or back. */
  readonly lengthMin: number;
  /** What the sources could have given; null: not known for this day. [W] */
  readonly potentialW: Series | null;
  /** What they gave. [W] */
  readonly sourcesW: Series;
  readonly baseW: Series;
  readonly loads: readonly {
    readonly id: string;
    readonly label: string;
    readonly powerW: Series;
    readonly asked: Asked;
  }[];
  readonly socFraction: Series;
  /** Of another run of the same day; null: there is none. */
  readonly besideSocFraction: Series | null;
  readonly ruleCurveFraction: Series;
}

/** What a person had asked of a load, minute by minute. */
export type Asked = readonly ("run" | "hold" | null)[];

export interface AskedStretch extends Span {
  readonly wants: "run" | "hold";
}

/** Minutes of the day that are shown: from, and up to but without `to`. */
export interface Span {
  readonly from: number;
  readonly to: number;
}

const MINUTE_MS = 60_000;
/** The shortest part of a day that is shown. [min] */
const SPAN_MIN = 60;

export function wholeDay({ lengthMin }: RibbonDay): Span {
  return { from: 0, to: lengthMin };
}

/** So many times as long, around a minute, within the day. */
export function zoomed(
  span: Span,
  how: { readonly factor: number; readonly around: number; readonly lengthMin: number },
): Span {
  const wanted = Math.round((span.to - span.from) * how.factor);
  const length = Math.min(how.lengthMin, Math.max(SPAN_MIN, wanted));
  return placed(Math.round(how.around - length / 2), length, how.lengthMin);
}

/** The same length, earlier or later by a share of it. */
export function moved(span: Span, share: number, lengthMin: number): Span {
  const length = span.to - span.from;
  return placed(Math.round(span.from + share * length), length, lengthMin);
}

function placed(wantedFrom: number, length: number, lengthMin: number): Span {
  const from = Math.min(lengthMin - length, Math.max(0, wantedFrom));
  return { from, to: from + length };
}

type Columns = Pick<
  DayView,
  | "date"
  | "from"
  | "to"
  | "minutes"
  | "potentialW"
  | "sourcesPowerW"
  | "basePowerW"
  | "socFraction"
  | "ruleCurveFraction"
> & {
  readonly loads: Readonly<
    Record<string, { readonly label: string; readonly powerW: Series; readonly asked?: Asked }>
  >;
};

/** Minutes that were not recorded are not known; the service leaves them out. */
export function ribbonDay(view: Columns): RibbonDay {
  const fromMs = Date.parse(view.from);
  const lengthMin = Math.round((Date.parse(view.to) - fromMs) / MINUTE_MS);
  const spread = <Value>(column: readonly Value[]): (Value | null)[] => {
    const series = new Array<Value | null>(lengthMin).fill(null);
    for (const [place, minute] of view.minutes.entries()) series[minute] = column[place] ?? null;
    return series;
  };
  return {
    date: view.date,
    fromMs,
    lengthMin,
    potentialW: view.potentialW.every((value) => value === null) ? null : spread(view.potentialW),
    sourcesW: spread(view.sourcesPowerW),
    baseW: spread(view.basePowerW),
    loads: Object.entries(view.loads).map(([id, { label, powerW, asked = [] }]) => ({
      id,
      label,
      powerW: spread(powerW),
      asked: spread(asked),
    })),
    socFraction: spread(view.socFraction),
    besideSocFraction: null,
    ruleCurveFraction: spread(view.ruleCurveFraction),
  };
}

export function instantOf({ fromMs }: RibbonDay, minute: number): string {
  return new Date(fromMs + minute * MINUTE_MS).toISOString();
}

/** Minutes in a row in which the same was asked. */
export function askedStretches(asked: Asked): readonly AskedStretch[] {
  const found: AskedStretch[] = [];
  for (const [minute, wants] of asked.entries()) {
    if (wants === null) continue;
    const last = found.at(-1);
    if (last?.to === minute && last.wants === wants) {
      found[found.length - 1] = { from: last.from, to: minute + 1, wants };
    } else found.push({ from: minute, to: minute + 1, wants });
  }
  return found;
}

/** Means of equal parts of a span; a part of which nothing is known stays unknown. */
export function means(series: Series, span: Span, count: number): (number | null)[] {
  const length = (span.to - span.from) / count;
  return Array.from({ length: count }, (_, part) => {
    const [from, to] = [span.from + part * length, span.from + (part + 1) * length];
    const known = series
      .slice(Math.floor(from), Math.max(Math.floor(from) + 1, Math.floor(to)))
      .flatMap((value) => (value === null ? [] : [value]));
    return known.length === 0 ? null : known.reduce((sum, value) => sum + value, 0) / known.length;
  });
}

/** The greatest power of the day, for a scale that does not change with the zoom. [W] */
export function greatestW({ potentialW, sourcesW, baseW, loads }: RibbonDay): number {
  const all = [potentialW ?? [], sourcesW, baseW, ...loads.map(({ powerW }) => powerW)];
  return all.flat().reduce<number>((most, value) => Math.max(most, value ?? 0), 100);
}
