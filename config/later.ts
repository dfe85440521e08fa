/**
 * Keys and words that people will look for and that the service does not act upon yet. They are
 * refused like any unknown key, but with an answer instead of a guess.
 */
import type { SettingsPath } from "./findings.ts";

/** `*` stands for any place in a list. */
const LATER_KEYS: ReadonlyMap<string, string> = new Map(
  Object.entries({
    guidance: "times for hand-started loads",
    generator: "generator requests",
    tiers: "shedding of essential circuits",
    history: "a stored history",
    alerts: "alerts",
    weather: "forecasts",
    "battery.reserveNights": "nights of reserve; raise floor instead",
    "ruleCurve.caution": "an outlook for the rest of the day",
    "loads.*.deadline": "deadlines",
    "loads.*.quota.atLeast": "a least amount for each day",
    "loads.*.tank.normal": "a normal set-point; the tank's own thermostat keeps it",
    "loads.*.tank.pasteurise": "pasteurisation runs",
  }),
);

const LATER_VALUES: ReadonlyMap<string, Readonly<Record<string, string>>> = new Map(
  Object.entries({
    "ruleCurve.mode": { outlook: "an outlook for the rest of the day" },
  }),
);

/** @returns Answer for a key that is known to come; `undefined` for a plain mistake. */
export function answerForLaterKey(path: SettingsPath): string | undefined {
  const answer = LATER_KEYS.get(patternOf(path));
  return answer === undefined ? undefined : notYet(answer, "take the key out");
}

export function answerForLaterValue(path: SettingsPath, value: string): string | undefined {
  const answers = LATER_VALUES.get(patternOf(path)) ?? {};
  const answer = Object.hasOwn(answers, value) ? answers[value] : undefined;
  return answer === undefined ? undefined : notYet(answer, "choose another");
}

function notYet(what: string, advice: string): string {
  return `${advice}: not supported yet is ${what}`;
}

function patternOf(path: SettingsPath): string {
  return path.map((segment) => (typeof segment === "number" ? "*" : segment)).join(".");
}
