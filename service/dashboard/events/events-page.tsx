/** Events: what started, stopped and went wrong, newest first. */
import { useState } from "preact/hooks";
import type { EventView } from "../../event-view.ts";
import { ask } from "../api.ts";
import type { Format } from "../format.ts";
import { asSentence } from "../sentence.ts";
import { useAnswer } from "../use-answer.ts";
import { EVERYTHING, isShown, together } from "./filter.ts";
import type { EventFilter, ListedEvent } from "./filter.ts";

interface Props {
  /** Since the page was opened, newest first. */
  readonly events: readonly EventView[];
  readonly format: Format;
  readonly hasHistory: boolean;
}

/** Each step back shows so many more. */
const PAGE_EVENTS = 100;
const EVENTS_MAX = 500;

export function EventsPage({ events: news, format, hasHistory }: Props) {
  const [filter, setFilter] = useState<EventFilter>(EVERYTHING);
  const [limit, setLimit] = useState(PAGE_EVENTS);
  const past = useAnswer(hasHistory ? `events ${String(limit)}` : null, () =>
    ask(`/api/events?limit=${String(limit)}`),
  );
  const events = together(news, past.value?.events ?? []);
  const hasMore = past.value !== null && past.value.before !== null && limit < EVENTS_MAX;
  const why = past.refusal ?? "this run keeps no history.";
  const shown = events.filter((event) => isShown(event, filter));
  return (
    <>
      <h1>Events</h1>
      <p>
        {hasHistory && past.refusal === null
          ? "Newest first."
          : `Since this page was opened, newest first. Older ones: ${why}`}
      </p>
      <FilterBar events={events} filter={filter} change={setFilter} />
      <p role="status">
        {String(shown.length)} of {String(events.length)} shown.
      </p>
      <ol class="events">
        {shown.map((event) => (
          <EventItem
            key={`${event.at} ${event.id} ${event.code} ${event.change}`}
            event={event}
            format={format}
          />
        ))}
      </ol>
      {hasMore ? (
        <button
          type="button"
          onClick={() => setLimit(Math.min(EVENTS_MAX, limit + 2 * PAGE_EVENTS))}
        >
          Older
        </button>
      ) : null}
    </>
  );
}

function EventItem({ event, format }: { readonly event: ListedEvent; readonly format: Format }) {
  return (
    <li class={`event ${event.severity}`}>
      <time dateTime={event.at}>
        {format.day(event.at)} {format.time(event.at)}
      </time>
      <p>
        <strong>
          {event.label}: {event.change}
        </strong>
        {event.severity === "info" ? null : ` (${event.severity})`}
        <br />
        {event.sentence === null
          ? `No longer so: ${event.code}.`
          : asSentence(format.words(event.sentence))}
      </p>
    </li>
  );
}

interface BarProps {
  readonly events: readonly ListedEvent[];
  readonly filter: EventFilter;
  readonly change: (filter: EventFilter) => void;
}

const SEVERITIES = [
  ["info", "All"],
  ["warning", "Warnings and alarms"],
  ["alarm", "Alarms"],
] as const;

function FilterBar({ events, filter, change }: BarProps) {
  const owners = new Map(events.map(({ id, label }) => [id, label]));
  return (
    <form class="filter" onSubmit={(event) => event.preventDefault()}>
      <label>
        About
        <select
          value={filter.owner}
          onChange={({ currentTarget }) => change({ ...filter, owner: currentTarget.value })}
        >
          <option value="">All</option>
          {[...owners].map(([id, label]) => (
            <option key={id} value={id}>
              {label}
            </option>
          ))}
        </select>
      </label>
      <label>
        Gravity
        <select
          value={filter.least}
          onChange={({ currentTarget }) => {
            const least = SEVERITIES.find(([value]) => value === currentTarget.value)?.[0];
            change({ ...filter, least: least ?? "info" });
          }}
        >
          {SEVERITIES.map(([value, name]) => (
            <option key={value} value={value}>
              {name}
            </option>
          ))}
        </select>
      </label>
      <label>
        Search
        <input
          type="search"
          value={filter.text}
          onInput={({ currentTarget }) => change({ ...filter, text: currentTarget.value })}
        />
      </label>
    </form>
  );
}
