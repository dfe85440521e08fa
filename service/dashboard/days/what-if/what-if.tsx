/** What if: the day once more, with other settings. Nothing is changed by it. */
import { useState } from "preact/hooks";
import type { DayFigures } from "../../../history/reading/day-figures.ts";
import type { SettingsView } from "../../../settings-desk.ts";
import type { SiteView } from "../../../site-view.ts";
import type { WhatIfProgress } from "../../../what-if-contract.ts";
import { ask } from "../../api.ts";
import { unbroken } from "../../format.ts";
import type { Format } from "../../format.ts";
import type { Session } from "../../session/session.ts";
import type { Changes } from "../../settings/proposal.ts";
import { useAnswer } from "../../use-answer.ts";
import type { RibbonDay } from "../ribbon-day.ts";
import { ChangeEditor } from "./change-editor.tsx";
import { choicesOf } from "./choices.ts";
import { Result } from "./result.tsx";
import { useReplay } from "./use-replay.ts";
import type { Replay } from "./use-replay.ts";

interface Props {
  readonly day: RibbonDay;
  readonly measured: DayFigures | null;
  readonly site: SiteView;
  readonly session: Session;
  readonly format: Format;
  readonly handOver: (changes: Changes) => void;
}

export function WhatIf(props: Props) {
  const { session } = props;
  const settings = useAnswer(session.isSignedIn === true ? "settings" : null, () =>
    ask("/api/settings"),
  );
  return (
    <section class="card what-if" aria-labelledby="what-if-heading">
      <h2 id="what-if-heading">What if</h2>
      {session.isSignedIn === true ? null : (
        <p class="hint">
          This day once more with other settings: sign in for that, at the top of the page.
        </p>
      )}
      {settings.refusal === null ? null : <p class="refusal">{settings.refusal}</p>}
      {settings.value === null ? null : <Panel {...props} settings={settings.value} />}
    </section>
  );
}

function Panel(props: Props & Known) {
  const { day, measured, site, session, format, settings, handOver } = props;
  const [changes, setChanges] = useState<Changes>(new Map());
  const replay = useReplay(session, day.date);
  const isRunning = replay.view?.state === "running";
  const set = (key: string, value: string | null): void => {
    const others = [...changes].filter(([other]) => other !== key);
    setChanges(new Map(value === null ? others : [...others, [key, value]]));
  };
  const result = replay.view?.result ?? null;
  return (
    <>
      <ChangeEditor
        choices={choicesOf(settings, site)}
        {...{ settings, day, format, changes, set }}
      />
      <ChangeList changes={changes} settings={settings} drop={(key) => set(key, null)} />
      <div class="filter">
        <button
          type="button"
          disabled={changes.size === 0 || isRunning}
          onClick={() => replay.begin(changes)}
        >
          Replay this day
        </button>
        {isRunning ? (
          <button type="button" onClick={replay.cancel}>
            Cancel
          </button>
        ) : null}
        <Propose {...{ changes, settings, handOver }} />
      </div>
      <Course replay={replay} format={format} />
      {result === null ? null : (
        <Result
          key={replay.view?.id}
          {...{ result, measured, format }}
          order={day.loads.map(({ id }) => id)}
          floorFraction={site.battery.floorFraction}
        />
      )}
    </>
  );
}

interface Known {
  readonly settings: SettingsView;
}

interface ListProps extends Known {
  readonly changes: Changes;
  readonly drop: (key: string) => void;
}

function ChangeList({ changes, settings, drop }: ListProps) {
  const before = (key: string): string =>
    settings.keys.find((one) => one.key === key)?.value ?? "not given";
  return (
    <ul class="changes" aria-label="Changes to be tried">
      {[...changes].map(([key, value]) => (
        <li key={key}>
          <code>{key}</code>: {unbroken(before(key))} →{" "}
          <strong>{unbroken(value ?? "not given")}</strong>
          <button type="button" class="quiet" onClick={() => drop(key)}>
            Drop<span class="unseen"> {key}</span>
          </button>
        </li>
      ))}
    </ul>
  );
}

type ProposeProps = Pick<ListProps, "changes" | "settings"> & Pick<Props, "handOver">;

/** Checked, shown line by line and applied over there, or not at all. */
function Propose({ changes, settings, handOver }: ProposeProps) {
  if (changes.size === 0) return null;
  if (!settings.isEditable) {
    return <p class="hint">To keep it, write it into the settings file.</p>;
  }
  const propose = (): void => {
    handOver(changes);
    location.hash = "#/settings";
  };
  return (
    <button type="button" onClick={propose}>
      Propose this change…
    </button>
  );
}

const STAGES: Readonly<Record<WhatIfProgress["stage"], string>> = {
  reading: "reading the record",
  inferring: "inferring what was held back",
  replaying: "replaying",
};

function Course({ replay, format }: { readonly replay: Replay; readonly format: Format }) {
  const { view, refusal } = replay;
  const isRunning = view?.state === "running";
  const words = {
    running: "Working it out…",
    done: "Worked out; the figures follow.",
    refused: "That cannot be replayed.",
    failed: "That failed.",
    cancelled: "Cancelled.",
  };
  return (
    <>
      <p role="status">{refusal !== "" ? refusal : view === null ? "" : words[view.state]}</p>
      {isRunning ? (
        <p class="course">
          <progress aria-label="How far the replay is" max={1} value={view.progress.share} />{" "}
          {STAGES[view.progress.stage]}, {format.share(view.progress.share)}
        </p>
      ) : null}
      {view?.problems.map((problem) => (
        <pre key={problem} class="alert alarm">
          {problem}
        </pre>
      ))}
    </>
  );
}
