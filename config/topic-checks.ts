/** Rules about topics: one place for one thing, and no command taken for a report. */
import { errorAt } from "./findings.ts";
import type { Finding, SettingsPath } from "./findings.ts";
import type { PartialFile } from "./partial-file.ts";
import type { SignalSettings } from "./site-settings.ts";
import type { MappedSignal } from "./mapped-signals.ts";
import { doOverlap } from "./topic-filters.ts";

interface Used {
  readonly topic: string;
  readonly path: SettingsPath;
}

export function topicChecks(
  file: PartialFile,
  signals: readonly MappedSignal[],
): readonly Finding[] {
  const commands = commandTopics(file);
  return [
    ...sharedSources(signals),
    ...sharedCommands(commands),
    ...commandsAsSources(commands, signals),
    ...ownTopics(commands, signals),
  ];
}

export function commandTopics(file: PartialFile): readonly Used[] {
  const loads = file.loads.flatMap((load, index) => {
    if (load === undefined) return [];
    const warning = load.kind === "sockets" ? load.warnBefore : undefined;
    return [
      { topic: load.command.topic, path: ["loads", index, "command", "topic"] },
      ...(warning === undefined
        ? []
        : [{ topic: warning.topic, path: ["loads", index, "warnBefore", "topic"] }]),
    ];
  });
  const panels = file.panels.flatMap((panel, index) =>
    panel === undefined
      ? []
      : [
          {
            topic: panel.contactor.command.topic,
            path: ["panels", index, "contactor", "command", "topic"],
          },
        ],
  );
  return [...panels, ...loads];
}

/** A wildcard that reaches another value's topic would take the one for the other. */
function sharedSources(signals: readonly MappedSignal[]): readonly Finding[] {
  const sources = signals.flatMap(({ signal, feeds }) =>
    feeds.map(({ feed, path }) => ({ signal, feed, path })),
  );
  return sources.flatMap(({ feed, path }, index) => {
    const other = sources
      .slice(0, index)
      .find((one) => one.feed.field === feed.field && doOverlap(one.feed.topic, feed.topic));
    if (other === undefined) return [];
    return [
      errorAt([...path, "topic"], "source-shared", {
        expected: `a topic and field of its own; this one is ${nameOf(other.signal)} already`,
      }),
    ];
  });
}

function nameOf(signal: SignalSettings): string {
  return signal.key.replace("{id}", signal.ownerId ?? "");
}

function sharedCommands(commands: readonly Used[]): readonly Finding[] {
  const topics = commands.map(({ topic }) => topic);
  return commands
    .filter(({ topic }, index) => topics.indexOf(topic) < index)
    .map(({ path }) =>
      errorAt(path, "command-shared", {
        expected: "a topic of its own: another actuator listens to this one",
      }),
    );
}

/** The service would hear its own command and take it for the actuator's answer. */
function commandsAsSources(
  commands: readonly Used[],
  signals: readonly MappedSignal[],
): readonly Finding[] {
  return sourcesOf(signals)
    .filter((source) => commands.some(({ topic }) => doOverlap(topic, source.topic)))
    .map(({ path }) =>
      errorAt(path, "command-as-source", {
        expected: "a topic on which the device answers; commands are published to this one",
      }),
    );
}

function ownTopics(
  commands: readonly Used[],
  signals: readonly MappedSignal[],
): readonly Finding[] {
  return [...commands, ...sourcesOf(signals)]
    .filter(({ topic }) => doOverlap(topic, "bywash/#"))
    .map(({ path }) =>
      errorAt(path, "topic-reserved", {
        expected: "a topic outside bywash/, where the service publishes itself",
      }),
    );
}

function sourcesOf(signals: readonly MappedSignal[]): readonly Used[] {
  return signals.flatMap(({ feeds }) =>
    feeds.map(({ feed, path }) => ({ topic: feed.topic, path: [...path, "topic"] })),
  );
}
