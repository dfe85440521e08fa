/**
 * Keys that people will look for and that the service does not act upon yet. They are refused like
 * any unknown key, but with an answer instead of a guess.
 */
import type { SettingsPath } from "./findings.ts";

/** `*` stands for any place in a list. */
const LATER_KEYS: ReadonlyMap<string, string> = new Map(
  Object.entries({
    generator: "generator requests",
    tiers: "shedding of essential circuits",
    alerts: "alerts",
    "loads.*.quota.atLeast": "a least amount for each day; a deadline may reach one",
    "loads.*.tank.normal": "a normal set-point; the tank's own thermostat keeps it",
    "loads.*.tank.pasteurise": "pasteurisation runs",
  }),
);

/** @returns Answer for a key that is known to come; `undefined` for a plain mistake. */
export function answerForLaterKey(path: SettingsPath): string | undefined {
  const answer = LATER_KEYS.get(patternOf(path));
  return answer === undefined ? undefined : `take the key out: not supported yet is ${answer}`;
}

function patternOf(path: SettingsPath): string {
  return path.map((segment) => (typeof segment === "number" ? "*" : segment)).join(".");
}
