/** `bywash check --live`: what of the site is heard on its broker, in at most 80 columns. */
import { randomBytes } from "node:crypto";
import { parseQuantity } from "../../config/quantities.ts";
import type { SiteSettings } from "../../config/site-settings.ts";
import { systemClock } from "../clock.ts";
import { UserError } from "../errors.ts";
import { hangingLines } from "../hanging-text.ts";
import { liveAccess } from "../live-check/live-access.ts";
import { listenLive } from "../live-check/listen.ts";
import type { LiveReport } from "../live-check/listen.ts";
import type { LiveSignal, LiveState } from "../live-check/signal-finding.ts";
import type { RootLog } from "../log.ts";
import { watts } from "./quantity-text.ts";

const FOR_MIN_MS = 1_000;
const FOR_MAX_MS = 3_600_000;

/** Its findings are the answer; what the connection says by the way is not. */
const QUIET: RootLog = {
  debug: () => undefined,
  info: () => undefined,
  warn: () => undefined,
  error: () => undefined,
  part: () => QUIET,
};

/** @throws UserError unless it is a time that a person would listen. */
export function listeningMs(written: string): number {
  const parsed = parseQuantity(written, "duration");
  if (parsed.ok && parsed.value >= FOR_MIN_MS && parsed.value <= FOR_MAX_MS) return parsed.value;
  throw new UserError([
    { code: "flag-value", where: "--for", found: written, expected: "a time from 1 s to 1 h" },
  ]);
}

/** @throws UserError for settings that tell no way in; Error if the broker is out of reach. */
export async function hearSite(site: SiteSettings, forMs: number): Promise<LiveReport> {
  const topics = site.telemetry.flatMap(({ sensors }) =>
    sensors.flatMap(({ feeds }) => feeds.map(({ topic }) => topic)),
  );
  const isTerminal = process.stderr.isTTY;
  const clear = (): void => {
    if (isTerminal) process.stderr.write("\r\u001b[K");
  };
  try {
    return await listenLive({
      site,
      access: liveAccess(site, topics),
      clock: systemClock,
      log: QUIET,
      forMs,
      runId: randomBytes(4).toString("hex"),
      onProgress: (there, mapped) => {
        if (isTerminal) process.stderr.write(`\rlistening: ${String(there)} of ${String(mapped)}`);
      },
    });
  } catch (error) {
    throw site.broker.url === null ? withHint(error) : error;
  } finally {
    clear();
  }
}

function withHint(error: unknown): unknown {
  if (!(error instanceof Error) || error instanceof UserError) return error;
  return new Error(
    `${error.message}. It is built into the service: \`bywash serve --shadow\` has it, and ` +
      "switches nothing",
  );
}

export function isAllThere({ signals }: LiveReport): boolean {
  return signals.every(({ isFine }) => isFine);
}

export function tellLive(report: LiveReport): string {
  const { broker, listenedS, signals, sum } = report;
  const fine = signals.filter(({ isFine }) => isFine);
  const width = Math.max(...signals.map(({ signal }) => signal.length), 0) + 2;
  const head =
    `Heard on ${broker} within ${String(listenedS)} s: ${String(fine.length)} of ` +
    `${String(signals.length)} mapped signals.`;
  return [
    ...hangingLines("", head, 2),
    ...signals.flatMap((signal) => signalLines(signal, width)),
    ...(sum === null ? [] : sumLines(sum)),
  ].join("\n");
}

const STATES: Readonly<Record<Exclude<LiveState, "there">, string>> = {
  missing: "missing",
  kept: "kept by the broker",
  unreadable: "unreadable",
  implausible: "not to be believed",
  stale: "too old",
  frozen: "does not move",
};

function signalLines(signal: LiveSignal, width: number): readonly string[] {
  const { state, advice, notes, everyS } = signal;
  const value = valueText(signal);
  const pace = everyS === null ? "" : `every ${String(everyS)} s`;
  const middle = state === "there" ? value : [value, STATES[state]].filter(Boolean).join(", ");
  const line = `${signal.signal.padEnd(width)}${middle.padEnd(14)} ${pace}`.trimEnd();
  return [
    ...hangingLines("", line, width),
    ...(advice === null ? [] : hangingLines("  ", `${sentence(advice)}.`, 4)),
    ...notes.flatMap((note) => hangingLines("  ", `${sentence(note)}.`, 4)),
  ];
}

function sentence(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}

/** Signals of these are shares; other numbers without a unit are counts. */
const SHARE = /soc|level/iu;

function valueText({ signal, value, unit }: LiveSignal): string {
  if (value === null) return "";
  if (typeof value === "boolean") return value ? "yes" : "no";
  if (typeof value === "string") return value;
  if (unit === "1" && SHARE.test(signal)) return `${short(value * 100)} %`;
  if (unit === "W") return watts(Number(short(value)));
  return unit === null || unit === "1" ? short(value) : `${short(value)} ${unit}`;
}

function short(value: number): string {
  return String(Number(value.toPrecision(4)));
}

function sumLines({ missingW, remedies }: NonNullable<LiveReport["sum"]>): readonly string[] {
  const missing = watts(Math.round(missingW));
  const perhaps =
    remedies.length === 0
      ? "Values of one instant may come some seconds apart; if it stays so, a meter, a sign or a " +
        "unit is wrong, or something on the battery is not measured."
      : `They would if: ${remedies.join("; or ")}.`;
  return hangingLines("", `The powers do not add up: ${missing} are unexplained. ${perhaps}`, 2);
}
