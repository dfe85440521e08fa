/** Settings: each key with its meaning and value; changed after a look at what that would do. */
import { useEffect, useRef, useState } from "preact/hooks";
import type { SettingsView } from "../../settings-desk.ts";
import { ask } from "../api.ts";
import { unbroken } from "../format.ts";
import type { Session } from "../session/session.ts";
import { useAnswer } from "../use-answer.ts";
import { ProposalBar } from "./proposal-bar.tsx";
import { useProposal } from "./proposal.ts";
import type { HandedOver, Proposal } from "./proposal.ts";

type Key = SettingsView["keys"][number];

interface Props {
  readonly session: Session;
  readonly handedOver: HandedOver;
}

export function SettingsPage({ session, handedOver }: Props) {
  const [version, setVersion] = useState(0);
  const isKnown = session.isSignedIn === true;
  const question = isKnown ? `settings ${String(version)}` : null;
  const answer = useAnswer(question, () => ask("/api/settings"));
  // While they are asked for anew those of before stay, and with them what was said of a change.
  const last = useRef<SettingsView | null>(null);
  last.current = isKnown ? (answer.value ?? last.current) : null;
  const value = last.current;
  const { refusal } = answer;
  return (
    <>
      <h1>Settings</h1>
      {isKnown ? null : <p>Sign in, at the top of the page, to see the settings.</p>}
      {refusal === null ? null : <p class="alert note">{refusal}</p>}
      {value === null ? null : (
        <SettingsTable
          view={value}
          session={session}
          handedOver={handedOver}
          whenApplied={() => setVersion((count) => count + 1)}
        />
      )}
    </>
  );
}

interface TableProps extends Props {
  readonly view: SettingsView;
  readonly whenApplied: () => void;
}

function SettingsTable({ view, session, handedOver, whenApplied }: TableProps) {
  const [text, setText] = useState("");
  const [showsAll, setShowsAll] = useState(false);
  const { fingerprint } = view;
  const given = handedOver.changes;
  const proposal = useProposal({ session, fingerprint, given, whenApplied });
  useEffect(handedOver.take, []);
  const wanted = text.trim().toLowerCase();
  const shown = view.keys.filter(
    ({ key, value, meaning }) =>
      (showsAll || value !== null) && `${key} ${meaning}`.toLowerCase().includes(wanted),
  );
  const sections = [...new Set(shown.map(sectionOf))];
  return (
    <>
      <p>
        {view.file}.{" "}
        {view.isEditable
          ? "What is changed here is checked first; comments in the file stay."
          : "It is changed with an editor; web.editing: true allows it here, too."}
      </p>
      <div class="filter">
        <label>
          Search
          <input type="search" value={text} onInput={(e) => setText(e.currentTarget.value)} />
        </label>
        <label class="check">
          <input
            type="checkbox"
            checked={showsAll}
            onChange={(event) => setShowsAll(event.currentTarget.checked)}
          />
          Also what is not given
        </label>
      </div>
      <ProposalBar view={view} proposal={proposal} />
      {sections.map((section) => (
        <section key={section} aria-labelledby={`section-${section}`}>
          <h2 id={`section-${section}`}>{section}</h2>
          <dl class="keys">
            {shown
              .filter((key) => sectionOf(key) === section)
              .map((key) => (
                <KeyRow key={key.key} entry={key} view={view} proposal={proposal} />
              ))}
          </dl>
        </section>
      ))}
    </>
  );
}

/** Loads, panels and signals by name; the rest by what they belong to. */
function sectionOf({ key }: Key): string {
  const [first = "", second = ""] = key.split(".");
  return first === "loads" || first === "panels" ? `${first}.${second}` : first;
}

const BY_HAND = /^(version|web|broker|history)\b/u;

interface RowProps {
  readonly entry: Key;
  readonly view: SettingsView;
  readonly proposal: Proposal;
}

function KeyRow({ entry, view, proposal }: RowProps) {
  const { key, value, meaning, fallback, range } = entry;
  const [isOpen, setOpen] = useState(false);
  const proposed = proposal.changes.get(key);
  const mayChange = view.isEditable && !BY_HAND.test(key);
  return (
    <div class={proposed === undefined ? "key" : "key changed"}>
      <dt>{key}</dt>
      <dd class="value">
        {value === null ? (
          <span class="faint">
            {fallback === null ? "not given" : `${unbroken(fallback)} (as is)`}
          </span>
        ) : (
          unbroken(value)
        )}
        {proposed === undefined ? null : (
          <strong> → {unbroken(proposed ?? takenOutText(fallback))}</strong>
        )}
      </dd>
      <dd class="meaning">
        {unbroken(meaning)}
        {range === null ? "" : `; ${unbroken(range)}`}
        {fallback === null || value === null ? "" : `; else ${unbroken(fallback)}`}
      </dd>
      {mayChange ? (
        <dd class="edit">
          <button
            type="button"
            class="quiet"
            aria-expanded={isOpen}
            onClick={() => setOpen((was) => !was)}
          >
            Change<span class="unseen"> {key}</span>
          </button>
        </dd>
      ) : null}
      {mayChange && isOpen ? <NewValue entry={entry} proposal={proposal} /> : null}
    </div>
  );
}

function takenOutText(fallback: string | null): string {
  return fallback === null ? "taken out" : `taken out: ${fallback}`;
}

/** Another value, or none: what is not optional the check refuses to take out. */
function NewValue({ entry, proposal }: Omit<RowProps, "view">) {
  const { key, value } = entry;
  const proposed = proposal.changes.get(key);
  const isOut = proposed === null;
  return (
    <dd class="new-value">
      <input
        aria-label={`New value of ${key}`}
        value={proposed ?? (isOut ? "" : (value ?? ""))}
        disabled={isOut}
        onInput={(event) => {
          const written = event.currentTarget.value.trim();
          if (written === (value ?? "")) proposal.drop(key);
          else proposal.set(key, written);
        }}
      />
      {value === null ? null : (
        <button
          type="button"
          onClick={() => (isOut ? proposal.drop(key) : proposal.set(key, null))}
        >
          {isOut ? "Keep it" : "Take it out"}
          <span class="unseen"> {key}</span>
        </button>
      )}
    </dd>
  );
}
