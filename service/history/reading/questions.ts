/** What the history can be asked, and the answers: plain data that can pass between threads. */
import type { ControlSettings } from "../../control/settings.ts";
import { recordedDays } from "./days.ts";
import { dayFigures } from "./day-figures.ts";
import type { DayFigures } from "./day-figures.ts";
import { dayTable } from "./day-table.ts";
import type { DayTable } from "./day-table.ts";
import { readEvents } from "./events.ts";
import type { EventFilter, StoredEvent } from "./events.ts";
import { readMinutes } from "./minutes.ts";
import type { Stretch } from "./minutes.ts";
import { numberOrNullIn, textIn } from "./reader.ts";
import type { Reader } from "./reader.ts";
import { readRuns } from "./runs.ts";

export interface AskedDay extends Stretch {
  readonly localDay: number;
}

export type Question =
  | { readonly kind: "recorded"; readonly toDay: number; readonly limit: number }
  | {
      readonly kind: "figures";
      readonly days: readonly AskedDay[];
      readonly sources: ControlSettings["sources"];
    }
  | {
      readonly kind: "day";
      readonly day: AskedDay;
      readonly sources: ControlSettings["sources"];
    }
  | { readonly kind: "events"; readonly filter: EventFilter };

export type Answer =
  | { readonly kind: "recorded"; readonly localDays: readonly number[] }
  /** null: no minute of that day was kept. */
  | { readonly kind: "figures"; readonly figures: readonly (DayFigures | null)[] }
  | { readonly kind: "day"; readonly table: DayTable; readonly figures: DayFigures | null }
  | { readonly kind: "events"; readonly events: readonly StoredEvent[] };

const MINUTE_MS = 60_000;

/** @throws Error of the database */
export function answer(reader: Reader, question: Question): Answer {
  switch (question.kind) {
    case "recorded": {
      const { toDay, limit } = question;
      const localDays = recordedDays(reader, { fromDay: Number.MIN_SAFE_INTEGER, toDay, limit });
      return { kind: "recorded", localDays };
    }
    case "figures": {
      const { days, sources } = question;
      const figures = days.map(
        (day) => keptFigures(reader, day.localDay) ?? workedOut(reader, day, sources).figures,
      );
      return { kind: "figures", figures };
    }
    case "day":
      return { kind: "day", ...workedOut(reader, question.day, question.sources) };
    case "events":
      return { kind: "events", events: readEvents(reader, question.filter) };
  }
}

function workedOut(
  reader: Reader,
  day: AskedDay,
  sources: ControlSettings["sources"],
): { readonly table: DayTable; readonly figures: DayFigures | null } {
  const table = dayTable(readMinutes(reader, day), sources);
  if (table.minutes.length === 0) return { table, figures: null };
  const figures = dayFigures(table, {
    lengthMin: (day.toMs - day.fromMs) / MINUTE_MS,
    runs: readRuns(reader, day),
    lowestSocFraction: lowestSoc(reader, day),
  });
  return { table, figures };
}

function lowestSoc(reader: Reader, { fromMs, toMs }: Stretch): number | null {
  const [row = []] = reader.rows(
    "SELECT min((mean - below) * 1.0 / per_unit) FROM sample JOIN signal ON signal.id = signal " +
      "WHERE name = 'decision.socFraction' AND minute >= ? AND minute < ?",
    Math.ceil(fromMs / MINUTE_MS),
    Math.ceil(toMs / MINUTE_MS),
  );
  return numberOrNullIn(row, 0);
}

/** What was written when the day was over, by this program and in its form. */
function keptFigures(reader: Reader, localDay: number): DayFigures | null {
  const hasTable = reader.rows("SELECT 1 FROM sqlite_schema WHERE name = 'day_figures'").length > 0;
  if (!hasTable) return null;
  const [row] = reader.rows("SELECT body FROM day_figures WHERE local_day = ?", localDay);
  if (row === undefined) return null;
  const body: unknown = JSON.parse(textIn(row, 0));
  // Figures from before loads could be asked for.
  return isFigures(body) ? { ...body, askedWh: body.askedWh ?? 0 } : null;
}

type KeptFigures = Omit<DayFigures, "askedWh"> & Partial<Pick<DayFigures, "askedWh">>;

function isFigures(body: unknown): body is KeptFigures {
  return typeof body === "object" && body !== null && "reserveDrawnWh" in body && "loads" in body;
}
