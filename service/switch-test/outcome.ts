/** What came of a switch test, in words: what is proven, what is not, and what to do about it. */
import type { Look } from "./looks.ts";

export interface TestResult {
  /** Why it never went on; null: it did. */
  readonly refusal: string | null;
  /** Why it went off before its time; null: it did not. */
  readonly interruption: string | null;
  readonly on: readonly Look[];
  readonly off: readonly Look[];
  /** After which it must drop by itself when no command comes. [s] */
  readonly holdS: number | null;
}

const NAMES = { report: "its report", meter: "its meter", inverter: "the inverter" } as const;

/** On and off were both seen, nothing that could have shown them did not, and nothing cut in. */
export function isProven({ refusal, interruption, on, off }: TestResult): boolean {
  const isWhole = refusal === null && interruption === null;
  return isWhole && [on, off].every((looks) => isSeen(looks) && missing(looks).length === 0);
}

export function outcomeOf(result: TestResult): string {
  const { refusal, holdS } = result;
  if (refusal !== null) return `Not tested, it never went on: ${refusal}.`;
  if (!isProven(result)) return [...doubts(result), HELD].join(". ");
  const drops = holdS === null ? "" : `that it drops by itself after ${String(holdS)} s `;
  const hold = holdS === null ? "" : `${drops}without commands; `;
  return `${PROVEN} Not proven: ${hold}what its own protections do.`;
}

const PROVEN = "Proven: it goes on and off when it is told to.";
const HELD =
  "It stays held off for an hour; look at its wiring, its switch and its topics before it is " +
  "released.";

function doubts({ interruption, on, off }: TestResult): string[] {
  const [notOn, notOff] = [missing(on), missing(off)];
  return [
    ...(interruption === null ? [] : [`It went off before the test was over: ${interruption}`]),
    ...(notOff.length === 0
      ? []
      : [`That it went off was not seen by ${list(notOff)}: ${BREAKER}`]),
    ...(notOff.length > 0 || isSeen(off) ? [] : [UNSEEN_OFF]),
    ...(notOn.length === 0 ? [] : [`That it went on was not seen by ${list(notOn)}`]),
    ...(notOn.length > 0 || isSeen(on) ? [] : [UNSEEN_ON]),
  ];
}

const BREAKER = "it may still be on. Switch it off at its breaker";
const UNSEEN_OFF = "Nothing here measures that it is off: look for yourself";
const UNSEEN_ON = "Nothing here measures that it went on: only your own eyes can tell";

function list(names: readonly string[]): string {
  return names.join(", ");
}

function isSeen(looks: readonly Look[]): boolean {
  return looks.some(({ result }) => result === "seen");
}

function missing(looks: readonly Look[]): string[] {
  return looks.flatMap(({ by, result }) => (result === "not-seen" ? [NAMES[by]] : []));
}
