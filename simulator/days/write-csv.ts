import { roundFigure } from "../rounding.ts";
import { CHARGE_STAGES } from "./day-file.ts";
import type { DaySeries } from "./day-file.ts";

const MINUTE_MS = 60_000;

/** The day as a day file: six significant digits, empty fields for what is missing. */
export function writeDayCsv(series: DaySeries): string {
  return dayCsvHead(series) + dayCsvRows(series);
}

/** Comments and header, which all pieces of a file have in common. */
export function dayCsvHead(series: DaySeries): string {
  const comments = [...commentValues(series)].map(([key, value]) => `# ${key}: ${value}`);
  return [...comments, ["time", ...series.columns.keys()].join(","), ""].join("\n");
}

/** What the file says of itself, by key; each value is one line. */
export function* commentValues(series: DaySeries): Generator<readonly [string, string]> {
  if (series.site !== null) yield ["site", oneLine(series.site)];
  yield ["step", `${series.stepMs / 1000} s`];
  if (series.place !== null) {
    yield ["latitude", String(series.place.latitudeDeg)];
    yield ["longitude", String(series.place.longitudeDeg)];
  }
  if (series.source !== null) yield ["source", oneLine(series.source)];
}

export function dayCsvRows(series: DaySeries): string {
  const placeOffsetMs = series.place?.utcOffsetMs ?? 0;
  const columns = [...series.columns];
  let text = "";
  for (const [row, atMs] of series.timesMs.entries()) {
    const fields = columns.map(([name, values]) => formatValue(name, values[row] ?? NaN));
    const offsetMs = series.utcOffsetsMs?.[row] ?? placeOffsetMs;
    text += `${[formatTime(atMs, offsetMs), ...fields].join(",")}\n`;
  }
  return text;
}

function oneLine(text: string): string {
  return text.replace(/\s+/g, " ").trim();
}

function formatValue(name: string, value: number): string {
  if (Number.isNaN(value)) return "";
  if (name === "charge_stage") return CHARGE_STAGES[value] ?? "";
  return String(roundFigure(value));
}

/** RFC 3339, in the local time that the offset gives. */
export function formatTime(atMs: number, offsetMs: number): string {
  const text = new Date(atMs + offsetMs).toISOString().replace(".000Z", "Z");
  if (offsetMs === 0) return text;
  const minutes = Math.abs(offsetMs) / MINUTE_MS;
  const hour = String(Math.floor(minutes / 60)).padStart(2, "0");
  const minute = String(minutes % 60).padStart(2, "0");
  return `${text.slice(0, -1)}${offsetMs < 0 ? "-" : "+"}${hour}:${minute}`;
}
