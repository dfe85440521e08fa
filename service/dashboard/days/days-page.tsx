/** Days: what each recorded day came to, and one of them minute by minute. */
import type { DaySummaryView, DayView, PastEventView } from "../../past-desk.ts";
import type { SiteView } from "../../site-view.ts";
import type { StateView } from "../../state-view.ts";
import { ask } from "../api.ts";
import type { Format } from "../format.ts";
import { asSentence } from "../sentence.ts";
import type { Session } from "../session/session.ts";
import type { Changes } from "../settings/proposal.ts";
import { useAnswer } from "../use-answer.ts";
import { DayExports } from "./day-exports.tsx";
import { DayPicture } from "./day-view.tsx";
import { outlookLine, outlookText } from "./outlook-line.ts";
import { ribbonDay } from "./ribbon-day.ts";
import { WhatIf } from "./what-if/what-if.tsx";

interface Props {
  readonly site: SiteView;
  readonly state: StateView;
  /** The day of the address; null: the newest. */
  readonly date: string | null;
  readonly session: Session;
  readonly format: Format;
  /** Gives changes to the settings page, which takes them up when it is opened. */
  readonly handOver: (changes: Changes) => void;
}

export function DaysPage({ site, state, date, session, format, handOver }: Props) {
  const days = useAnswer(site.hasHistory ? "days" : null, () => ask("/api/days"));
  const known = days.value?.days ?? [];
  const shown = date ?? known[0]?.date ?? null;
  const day = useAnswer(site.hasHistory ? shown : null, () => ask(`/api/days/${shown ?? ""}`));
  return (
    <>
      <h1>Days</h1>
      {site.hasHistory ? null : <p>This run keeps no history.</p>}
      {days.refusal === null ? null : <p role="status">{days.refusal}</p>}
      {days.value !== null && known.length === 0 ? <p>Nothing has been recorded yet.</p> : null}
      <DayStrip days={known} shown={shown} format={format} />
      {day.refusal === null ? null : <p role="status">{day.refusal}</p>}
      {day.value === null ? null : (
        <OneDay
          key={day.value.date}
          view={day.value}
          {...{ site, state, session, format, handOver }}
        />
      )}
    </>
  );
}

interface StripProps {
  readonly days: readonly DaySummaryView[];
  readonly shown: string | null;
  readonly format: Format;
}

/** Oldest first, as a calendar runs. */
function DayStrip({ days, shown, format }: StripProps) {
  return (
    <ul class="days">
      {days.toReversed().map(({ date, divertedWh, curtailedWh, curtailedMin }) => (
        <li key={date}>
          <a href={`#/days/${date}`} aria-current={date === shown ? "date" : undefined}>
            <strong>{format.date(date)}</strong>
            <small>{format.energy(divertedWh)} diverted</small>
            <small>
              {curtailedWh === null
                ? `held back for ${format.span(curtailedMin * 60)}`
                : `${format.energy(curtailedWh)} thrown away`}
            </small>
          </a>
        </li>
      ))}
    </ul>
  );
}

interface DayProps extends Omit<Props, "date"> {
  readonly view: DayView;
}

const MINUTE_MS = 60_000;

function OneDay({ view, site, state, session, format, handOver }: DayProps) {
  const range = `from=${encodeURIComponent(view.from)}&to=${encodeURIComponent(view.to)}`;
  const { value } = useAnswer(view.date, () => ask(`/api/events?${range}&limit=500`));
  const events = (value?.events ?? []).toReversed();
  const marks = events.map(({ at }) =>
    Math.floor((Date.parse(at) - Date.parse(view.from)) / MINUTE_MS),
  );
  const day = ribbonDay(view);
  const outlook = outlookLine(state, day);
  return (
    <>
      <h2>{format.date(view.date)}</h2>
      <p class="balance">{figuresText(view, format)}</p>
      <DayPicture
        day={day}
        marks={marks}
        floorFraction={site.battery.floorFraction}
        outlook={outlook}
        format={format}
      />
      {outlook === null ? null : <p>{outlookText(state, site, format)}</p>}
      <DayExports
        siteId={site.id}
        siteLabel={site.label}
        date={view.date}
        words={figuresText(view, format)}
      />
      <WhatIf {...{ day, site, session, format, handOver }} measured={view.figures} />
      <Decisions events={events} format={format} />
    </>
  );
}

function figuresText({ figures }: DayView, format: Format): string {
  if (figures === null) return "";
  const parts = [
    `The sources gave ${format.energy(figures.sourcesWh)}`,
    `everyday use took ${format.energy(figures.baseWh)}`,
    `opportunity loads ${format.energy(figures.divertedWh)} in ${String(figures.starts)} starts`,
    ...(figures.curtailedWh === null
      ? [`the arrays were held back for ${format.span(figures.curtailedMin * 60)}`]
      : [`${format.energy(figures.curtailedWh)} were thrown away`]),
    ...(figures.lowestSocFraction === null
      ? []
      : [`the battery was at ${format.share(figures.lowestSocFraction)} at least`]),
  ];
  const recorded = `${format.share(figures.coveredFraction)} of the day was recorded.`;
  return `${parts.join("; ")}. ${figures.coveredFraction < 1 ? recorded : ""}`;
}

interface DecisionsProps {
  readonly events: readonly PastEventView[];
  readonly format: Format;
}

function Decisions({ events, format }: DecisionsProps) {
  if (events.length === 0) return null;
  return (
    <section aria-labelledby="decisions-heading">
      <h2 id="decisions-heading">What was decided</h2>
      <ol class="events">
        {events.map(({ number, at, label, change, severity, sentence }) => (
          <li key={number} class={`event ${severity ?? "info"}`}>
            <time dateTime={at}>{format.time(at)}</time>
            <p>
              <strong>
                {label}: {change}
              </strong>
              <br />
              {sentence === null ? null : asSentence(format.words(sentence))}
            </p>
          </li>
        ))}
      </ol>
    </section>
  );
}
