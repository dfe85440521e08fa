/** What was understood of foreign files, as text of at most 80 columns. */
import { stampedCalendar } from "../../config/local-calendar.ts";
import type { OffsetChange } from "../../config/local-calendar.ts";
import type { ImportSummary } from "../../simulator/import/import-summary.ts";
import { hangingLines } from "../hanging-text.ts";

const GAPS_SHOWN = 5;
const CHANGES_SHOWN = 4;

export interface ImportReport {
  readonly summary: ImportSummary;
  /** Columns of the files that are not used. */
  readonly unused: readonly string[];
  /** By column: values that cannot be and were left empty. */
  readonly emptied: Readonly<Record<string, number>>;
  readonly written: readonly string[];
}

export function importText(report: ImportReport): string {
  const { summary } = report;
  return [
    ...headLines(summary),
    "",
    ...columnTable(summary),
    "",
    ...rowLines(summary),
    "",
    ...gapLines(summary),
    ...emptiedLines(report.emptied),
    ...listLines("columns not used: ", report.unused),
    ...adviceLines(summary),
    ...writtenLines(report.written),
  ].join("\n");
}

/** The few lines that stand for all of it where nobody asked to see more. */
export function writtenText(report: ImportReport): string {
  return [...gapLines(report.summary), ...writtenLines(report.written)].join("\n");
}

function headLines(summary: ImportSummary): readonly string[] {
  const { place, utcOffsets } = summary;
  const where =
    place === null
      ? "not said: a replay takes the place of its settings"
      : `${place.latitudeDeg.toFixed(3)}, ${place.longitudeDeg.toFixed(3)} (north, east)`;
  return [
    ...hangingLines("source  ", summary.source ?? "not said"),
    ...hangingLines("place   ", where),
    `rows    ${String(summary.rows)}, usually ${String(summary.stepS)} s apart`,
    `from    ${local(summary.startMs, utcOffsets)} to ${local(summary.endMs, utcOffsets)}`,
    ...clockLines(utcOffsets),
  ];
}

/** A record in local time is told by when its clocks were put forward or back. */
function clockLines(utcOffsets: readonly OffsetChange[]): readonly string[] {
  const [first, ...changes] = utcOffsets;
  const shown = changes.slice(0, CHANGES_SHOWN).map(({ fromMs, offsetMs }) => {
    return `        ${zoneText(offsetMs)} from ${local(fromMs, utcOffsets)}`;
  });
  const more = changes.length - shown.length;
  return [
    `clock   ${zoneText(first?.offsetMs ?? 0)} at the first row`,
    ...shown,
    ...(more > 0 ? [`        and ${String(more)} more changes`] : []),
  ];
}

function zoneText(offsetMs: number): string {
  const minutes = Math.abs(offsetMs) / 60_000;
  const hours = Math.floor(minutes / 60);
  const rest = minutes % 60 === 0 ? "" : ` ${String(minutes % 60)} min`;
  return `UTC${offsetMs < 0 ? "−" : "+"}${String(hours)} h${rest}`;
}

function columnTable(summary: ImportSummary): readonly string[] {
  const heads = ["column", "missing", "least", "mean", "greatest"];
  const rows = summary.columns.map(({ column, missingFraction, min, mean, max }) => [
    column,
    missingFraction === 0 ? "none" : `${(100 * missingFraction).toFixed(2)} %`,
    ...[min, mean, max].map(figure),
  ]);
  return table(heads, rows);
}

/** One block for each row, since twenty columns do not fit beside one another. */
function rowLines(summary: ImportSummary): readonly string[] {
  return summary.firstRows.flatMap(({ atMs, values }) => {
    const fields = summary.columns.map(({ column }, c) => `${column}=${figure(values[c] ?? null)}`);
    return hangingLines(`${local(atMs, summary.utcOffsets)}  `, fields.join(" "), 2);
  });
}

function gapLines({ gaps, utcOffsets }: ImportSummary): readonly string[] {
  if (gaps.length === 0) return ["holes over 10 min: none"];
  const shown = gaps.slice(0, GAPS_SHOWN).map(({ fromMs, toMs }) => {
    const minutes = Math.round((toMs - fromMs) / 60_000);
    return `  ${String(minutes)} min from ${local(fromMs, utcOffsets)}`;
  });
  const more = gaps.length - shown.length;
  return [
    `holes over 10 min: ${String(gaps.length)} (\`bywash replay --bridge\` holds the last value)`,
    ...shown,
    ...(more > 0 ? [`  and ${String(more)} more`] : []),
  ];
}

function emptiedLines(emptied: Readonly<Record<string, number>>): readonly string[] {
  const counts = Object.entries(emptied).map(([column, count]) => `${column} ${String(count)}`);
  return listLines("values that cannot be, left empty: ", counts);
}

function adviceLines({ columns }: ImportSummary): readonly string[] {
  const has = (name: string): boolean => columns.some(({ column }) => column === name);
  const hasSun = has("pv_potential_w") || has("ghi_w_m2");
  const hasUse = has("base_load_w") || has("total_load_w");
  return [
    ...(hasSun ? [] : ["not enough for a replay: no pv_potential_w and no ghi_w_m2"]),
    ...(hasUse ? [] : ["not enough for a replay: no base_load_w; --household SEED makes one up"]),
  ];
}

function writtenLines(written: readonly string[]): readonly string[] {
  const [first, last] = [written[0], written.at(-1)];
  if (first === undefined || last === undefined) return [];
  if (written.length === 1) return [`written: ${first}`];
  return [`written: ${String(written.length)} files`, `  ${first}`, "  …", `  ${last}`];
}

function listLines(head: string, entries: readonly string[]): readonly string[] {
  return entries.length === 0 ? [] : hangingLines(head, entries.join(", "), 2);
}

function figure(value: number | null): string {
  return value === null ? "-" : String(Number(value.toPrecision(5)));
}

function local(atMs: number, utcOffsets: readonly OffsetChange[]): string {
  const { localDay, localMinute } = stampedCalendar(utcOffsets)(atMs);
  const seconds = Math.floor(atMs / 1000) % 60;
  const localMs = localDay * 86_400_000 + localMinute * 60_000 + seconds * 1000;
  return new Date(localMs).toISOString().slice(0, 19).replace("T", " ");
}

function table(heads: readonly string[], rows: readonly (readonly string[])[]): readonly string[] {
  const widths = heads.map((head, c) =>
    Math.max(head.length, ...rows.map((row) => row[c]?.length ?? 0)),
  );
  return [heads, ...rows].map((row) =>
    row
      .map((cell, c) => (c === 0 ? cell.padEnd(widths[c] ?? 0) : cell.padStart(widths[c] ?? 0)))
      .join("  "),
  );
}
