import { roundFigure } from "../rounding.ts";
import { CHARGE_STAGES } from "./day-file.ts";
import type { DaySeries } from "./day-file.ts";

const MINUTE_MS = 60_000;

/** The day as a day file: six significant digits, empty fields for what is missing. */
export function writeDayCsv(series: DaySeries): string {
  const offsetMs = series.place?.utcOffsetMs ?? 0;
  const lines: string[] = [];
  if (series.site !== null) lines.push(`# site: ${series.site}`);
  lines.push(`# step: ${series.stepMs / 1000} s`);
  if (series.place !== null) {
    lines.push(`# latitude: ${series.place.latitudeDeg}`);
    lines.push(`# longitude: ${series.place.longitudeDeg}`);
  }
  if (series.source !== null) lines.push(`# source: ${series.source}`);
  const columns = [...series.columns];
  lines.push(["time", ...columns.map(([name]) => name)].join(","));
  for (const [row, atMs] of series.timesMs.entries()) {
    const fields = columns.map(([name, values]) => formatValue(name, values[row] ?? NaN));
    lines.push([formatTime(atMs, offsetMs), ...fields].join(","));
  }
  return `${lines.join("\n")}\n`;
}

function formatValue(name: string, value: number): string {
  if (Number.isNaN(value)) return "";
  if (name === "charge_stage") return CHARGE_STAGES[value] ?? "";
  return String(roundFigure(value));
}

function formatTime(atMs: number, offsetMs: number): string {
  const text = new Date(atMs + offsetMs).toISOString().replace(".000Z", "Z");
  if (offsetMs === 0) return text;
  const minutes = Math.abs(offsetMs) / MINUTE_MS;
  const hour = String(Math.floor(minutes / 60)).padStart(2, "0");
  const minute = String(minutes % 60).padStart(2, "0");
  return `${text.slice(0, -1)}${offsetMs < 0 ? "-" : "+"}${hour}:${minute}`;
}
