/** Columns of a day as the paths of a picture; what is not known stays a hole. */
import type { Span } from "./ribbon-day.ts";

export type Scale = (value: number) => number;

export interface Across {
  readonly span: Span;
  readonly x: (minute: number) => number;
}

export function linePath(across: Across, values: readonly (number | null)[], y: Scale): string {
  const edge = edges(across, values.length);
  return values
    .map((value, part) => {
      if (value === null) return "";
      const isOn = part > 0 && values[part - 1] !== null;
      return `${isOn ? "L" : "M"}${edge(part)} ${at(y(value))}H${edge(part + 1)}`;
    })
    .join("");
}

export interface Band {
  readonly from: readonly number[];
  readonly to: readonly number[];
}

export function areaPath(across: Across, { from, to }: Band, y: Scale): string {
  const edge = edges(across, to.length);
  return to
    .map((value, part) => {
      const low = from[part] ?? 0;
      if (value - low < 1) return "";
      return `M${edge(part)} ${at(y(low))}V${at(y(value))}H${edge(part + 1)}V${at(y(low))}Z`;
    })
    .join("");
}

function edges({ span, x }: Across, count: number): (part: number) => string {
  const length = (span.to - span.from) / count;
  return (part) => at(x(span.from + part * length));
}

export function at(value: number): string {
  return value.toFixed(1);
}
