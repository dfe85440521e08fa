/** What people and other programs may ask of the history, as plain JSON with units in the keys. */
import { createLocalCalendar } from "../config/local-calendar.ts";
import type { SiteSettings } from "../config/site-settings.ts";
import type { Clock } from "./clock.ts";
import type { CodeEntry } from "./control/code-entry.ts";
import { explainCode } from "./control/explain.ts";
import { SITE_CODES } from "./control/site-codes.ts";
import { VERDICT_CODES } from "./control/verdict-codes.ts";
import type { Asker } from "./history/reading/ask.ts";
import type { DayFigures } from "./history/reading/day-figures.ts";
import type { DayTable } from "./history/reading/day-table.ts";
import type { EventFilter, StoredEvent } from "./history/reading/events.ts";
import type { Column } from "./history/reading/minutes.ts";
import { dayStretch, dayText } from "./local-days.ts";
import type { DayStretch } from "./local-days.ts";
import { timestamp } from "./timestamp.ts";

export interface DaySummaryView extends DayFigures {
  /** Local date. */
  readonly date: string;
  readonly isOver: boolean;
}

export interface DaysView {
  readonly formatVersion: 1;
  /** The newest first. */
  readonly days: readonly DaySummaryView[];
  /** Ask for those before this date; null: there are no more. */
  readonly before: string | null;
}

type Series = Record<
  | "sourcesPowerW"
  | "pvPowerW"
  | "potentialW"
  | "curtailedFraction"
  | "batteryPowerW"
  | "socFraction"
  | "ruleCurveFraction"
  | "usedPowerW"
  | "basePowerW"
  | "generatorPowerW",
  Column
>;

export interface DayView extends Series {
  readonly formatVersion: 1;
  readonly date: string;
  /** First instant of the day and of the next one, RFC 3339 in UTC. */
  readonly from: string;
  readonly to: string;
  readonly isOver: boolean;
  readonly figures: DayFigures | null;
  /** Minutes after `from`; every column has one value for each. */
  readonly minutes: readonly number[];
  readonly chargeStages: readonly (string | null)[];
  readonly loads: Readonly<Record<string, LoadSeriesView>>;
}

interface LoadSeriesView {
  readonly label: string;
  readonly powerW: Column;
  readonly tankTemperatureC: Column | null;
  /** What a person had asked for, in the minutes in which that decided. */
  readonly asked: readonly ("run" | "hold" | null)[];
}

export interface PastEventView {
  readonly number: number;
  readonly at: string;
  readonly about: string;
  readonly id: string;
  readonly label: string;
  readonly change: string;
  readonly code: string;
  readonly severity: CodeEntry["severity"] | null;
  /** null for what is over, and for codes that this version does not have. */
  readonly sentence: string | null;
}

export interface EventsView {
  readonly formatVersion: 1;
  /** The newest first. */
  readonly events: readonly PastEventView[];
  /** Ask for those before this number; null: there are no more. */
  readonly before: number | null;
}

export type EventQuestion = Omit<EventFilter, "textCodes">;

/** Each promise gives null if the history cannot be read. */
export interface PastDesk {
  readonly days: (page: {
    /** Only days before this one. */
    readonly beforeDay: number | null;
    readonly limit: number;
  }) => Promise<DaysView | null>;
  readonly day: (localDay: number) => Promise<DayView | null>;
  readonly events: (question: EventQuestion) => Promise<EventsView | null>;
}

const CODES: Readonly<Record<string, CodeEntry>> = { ...SITE_CODES, ...VERDICT_CODES };
const MINUTE_MS = 60_000;

export function createPastDesk(options: {
  readonly site: () => SiteSettings;
  readonly clock: Pick<Clock, "wallMs">;
  readonly asker: Pick<Asker, "ask">;
}): PastDesk {
  const { asker, clock } = options;
  const stretchOf = (localDay: number): DayStretch =>
    dayStretch(localDay, createLocalCalendar(options.site().timeZone));
  const isOver = ({ toMs }: DayStretch): boolean => clock.wallMs() >= toMs;
  return {
    async days({ beforeDay, limit }) {
      const toDay = beforeDay === null ? Number.MAX_SAFE_INTEGER : beforeDay - 1;
      // One more than asked for tells whether there are more.
      const known = await asker.ask({ kind: "recorded", toDay, limit: limit + 1 });
      if (known?.kind !== "recorded") return null;
      const days = known.localDays.slice(0, limit).map(stretchOf);
      const { sources } = options.site().control;
      const answer = await asker.ask({ kind: "figures", days, sources });
      if (answer?.kind !== "figures") return null;
      const last = days.at(-1);
      const hasMore = known.localDays.length > limit && last !== undefined;
      return {
        formatVersion: 1,
        days: days.flatMap((day, place) => {
          const figures = answer.figures[place] ?? null;
          if (figures === null) return [];
          return [{ date: dayText(day.localDay), isOver: isOver(day), ...figures }];
        }),
        before: hasMore ? dayText(last.localDay) : null,
      };
    },
    async day(localDay) {
      const site = options.site();
      const day = stretchOf(localDay);
      const answer = await asker.ask({ kind: "day", day, sources: site.control.sources });
      if (answer?.kind !== "day") return null;
      const { table, figures } = answer;
      return {
        formatVersion: 1,
        date: dayText(localDay),
        from: timestamp(day.fromMs),
        to: timestamp(day.toMs),
        isOver: isOver(day),
        figures,
        ...seriesOf(table, { fromMs: day.fromMs, loads: site.control.loads }),
      };
    },
    async events(question) {
      const textCodes = question.text === null ? [] : codesAbout(question.text);
      const limit = question.limit + 1;
      const answer = await asker.ask({ kind: "events", filter: { ...question, textCodes, limit } });
      if (answer?.kind !== "events") return null;
      const events = answer.events.slice(0, question.limit);
      const hasMore = answer.events.length > question.limit;
      return {
        formatVersion: 1,
        events: events.map((event) => eventView(event, options.site())),
        before: hasMore ? (events.at(-1)?.number ?? null) : null,
      };
    },
  };
}

/** Codes in whose name or sentence the text stands. */
function codesAbout(text: string): string[] {
  const wanted = text.toLowerCase();
  return Object.entries(CODES)
    .filter(([code, { sentence }]) => `${code} ${sentence}`.toLowerCase().includes(wanted))
    .map(([code]) => code);
}

function seriesOf(
  table: DayTable,
  day: { readonly fromMs: number; readonly loads: SiteSettings["control"]["loads"] },
): Series & Pick<DayView, "minutes" | "chargeStages" | "loads"> {
  const fromMinute = Math.floor(day.fromMs / MINUTE_MS);
  const labelOf = (id: string): string => day.loads.find((load) => load.id === id)?.label ?? id;
  return {
    minutes: table.minutes.map((minute) => minute - fromMinute),
    sourcesPowerW: table.sourcesPowerW,
    pvPowerW: rounded(table.pvPowerW),
    potentialW: table.potentialW,
    curtailedFraction: table.curtailedFraction,
    batteryPowerW: table.batteryPowerW,
    socFraction: table.socFraction,
    ruleCurveFraction: table.ruleCurveFraction,
    chargeStages: table.chargeStages,
    usedPowerW: table.usedPowerW,
    basePowerW: rounded(table.basePowerW),
    generatorPowerW: table.generatorPowerW,
    loads: Object.fromEntries(
      [...table.loads].map(([id, { powerW, tankTemperatureC, isAsked, isHeldOff }]) => [
        id,
        {
          label: labelOf(id),
          powerW,
          tankTemperatureC,
          asked: isAsked.map((isRun, place) =>
            isRun ? "run" : isHeldOff[place] === true ? "hold" : null,
          ),
        },
      ]),
    ),
  };
}

/** Sums and differences of tenths of a watt, which is what is kept. */
function rounded(column: Column): Column {
  return column.map((value) => (value === null ? null : Number(value.toFixed(1))));
}

function eventView(event: StoredEvent, { id, label, control }: SiteSettings): PastEventView {
  const { number, atMs, about, owner, change, code } = event;
  const load = control.loads.find((one) => about === "load" && one.id === owner);
  const entry = CODES[code];
  const isTold = change !== "cleared" && entry !== undefined && hasNumbers(entry, event);
  return {
    number,
    at: timestamp(atMs),
    about,
    id: about === "site" ? id : owner,
    label: about === "site" ? label : (load?.label ?? owner),
    change,
    code,
    severity: entry?.severity ?? null,
    sentence: isTold ? explainCode(entry, event) : null,
  };
}

function hasNumbers(entry: CodeEntry, { measured, limit }: StoredEvent): boolean {
  return (entry.measured === null || measured !== null) && (entry.limit === null || limit !== null);
}
