/** What is asked of a recorded day, and what comes back: plain data that passes between threads. */

/** Of the settings, as `--set` takes it. */
export interface WhatIfChange {
  readonly key: string;
  readonly value: string;
}

export interface WhatIfQuestion {
  readonly localDay: number;
  readonly changes: readonly WhatIfChange[];
}

/** Columns with one value for each minute; drawn as a recorded day is. */
export interface ReplayedSeries {
  /** Minutes after the day's first instant. */
  readonly minutes: readonly number[];
  readonly sourcesPowerW: readonly number[];
  readonly potentialW: readonly number[];
  readonly basePowerW: readonly number[];
  readonly socFraction: readonly number[];
  readonly ruleCurveFraction: readonly number[];
  readonly loads: Readonly<
    Record<string, { readonly label: string; readonly powerW: readonly number[] }>
  >;
}

export interface ReplayedFigures {
  readonly divertedWh: number;
  readonly curtailedWh: number;
  readonly potentialWh: number;
  /** Everyday use that went without. */
  readonly unservedWh: number;
  /** What loads drew from the battery below their stop, as the rule curve stood. */
  readonly reserveDrawnWh: number;
  readonly starts: number;
  readonly lowestSocFraction: number;
  readonly endSocFraction: number;
}

export interface ReplayedDay extends ReplayedSeries {
  readonly figures: ReplayedFigures;
  readonly energies: Readonly<
    Record<string, { readonly energyWh: number; readonly starts: number }>
  >;
}

/** For a low, a likely and a high guess of what a full battery hid. */
export interface Guesses {
  readonly low: number;
  readonly likely: number;
  readonly high: number;
}

export interface WhatIfResult {
  /** Local date. */
  readonly date: string;
  /** First instant of the day and of the next one, RFC 3339 in UTC. */
  readonly from: string;
  readonly to: string;
  readonly changes: readonly WhatIfChange[];
  /** The settings as they are now, in the simulated shed: what the change is held against. */
  readonly asSet: ReplayedDay;
  readonly changed: ReplayedDay;
  /** `changed` less `asSet`. */
  readonly more: { readonly divertedWh: Guesses; readonly curtailedWh: Guesses };
  /** Share of the potential that was not measured but inferred. [1] 0…1 */
  readonly reconstructedFraction: number;
  /** What the comparison rests on, in sentences. */
  readonly notes: readonly string[];
}

export interface WhatIfProgress {
  readonly stage: "reading" | "inferring" | "replaying";
  /** [1] 0…1 */
  readonly share: number;
}

/** To the thread: one order for its whole life. */
export type DayOrder = {
  /** The settings file, and what the service's own command line sets over it. */
  readonly path: string;
  readonly overrides: readonly string[];
  readonly localDay: number;
} & ({ readonly kind: "what-if"; readonly changes: readonly WhatIfChange[] } | { kind: "file" });

/** From the thread; all but progress is its last word. */
export type DayMessage =
  | { readonly kind: "progress"; readonly progress: WhatIfProgress }
  | { readonly kind: "what-if"; readonly result: WhatIfResult }
  | { readonly kind: "file"; readonly text: string }
  /** The user's own mistake, or a day that cannot be replayed. */
  | { readonly kind: "refused"; readonly problems: readonly string[] };
