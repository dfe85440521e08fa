/** What the page asks of the service. */
import type { LearnedView } from "../learned-view.ts";
import type { DayView, DaysView, EventsView } from "../past-desk.ts";
import type { CheckView, SettingsView } from "../settings-desk.ts";
import type { GuidanceView } from "../guidance-view.ts";
import type { SiteView } from "../site-view.ts";
import type { LoadView } from "../state-view.ts";
import type { SwitchTestView } from "../switch-test/switch-test.ts";
import type { WhatIfView } from "../what-if-desk.ts";
import type { SessionView } from "../web/routes/session.ts";

interface Answers {
  readonly "/api/site": SiteView;
  readonly "/api/session": SessionView;
  readonly "/api/settings": SettingsView;
  readonly "/api/learned": LearnedView;
  readonly "/api/guidance": GuidanceView;
  readonly "/api/days": DaysView;
  readonly [day: `/api/days/${string}`]: DayView;
  readonly [replay: `/api/what-if/${string}`]: WhatIfView;
  readonly [events: `/api/events?${string}`]: EventsView;
}

interface Applied {
  readonly warnings: readonly string[];
  /** Sections that count only from the next start on. */
  readonly needsRestart: readonly string[];
}

/** What a write answers. */
export interface Written {
  readonly "/api/settings/check": CheckView;
  readonly "/api/settings/apply": Applied;
  readonly "/api/settings/undo": Applied;
  readonly "/api/session": SessionView;
  readonly "/api/session/end": SessionView;
  readonly [test: `/api/loads/${string}/test`]: { readonly switchTest: SwitchTestView | null };
  readonly [replay: `/api/days/${string}/what-if`]: WhatIfView;
  readonly [replay: `/api/what-if/${string}/cancel`]: WhatIfView;
  readonly [order: `/api/loads/${string}/request`]: { readonly load: LoadView };
}

/** A refusal in the service's own words. */
export class Refusal extends Error {
  readonly status: number;

  constructor(status: number, message: string) {
    super(message);
    this.status = status;
  }
}

/** @throws Refusal if the service answers with an error. */
export async function ask<Path extends keyof Answers>(path: Path): Promise<Answers[Path]> {
  const response = await fetch(path, { headers: { accept: "application/json" } });
  if (!response.ok) throw await refusalOf(response);
  // eslint-disable-next-line @typescript-eslint/no-unsafe-return -- the API is tested for these
  return response.json();
}

/**
 * @param csrfToken - Shows that the page is ours; null: not signed in.
 * @throws Refusal if the service answers with an error.
 */
export async function send<Path extends keyof Written>(
  path: Path,
  body: object,
  csrfToken: string | null,
): Promise<Written[Path]> {
  const response = await fetch(path, {
    method: "POST",
    headers: {
      accept: "application/json",
      "content-type": "application/json",
      ...(csrfToken === null ? {} : { "x-csrf-token": csrfToken }),
    },
    body: JSON.stringify(body),
  });
  if (!response.ok) throw await refusalOf(response);
  // eslint-disable-next-line @typescript-eslint/no-unsafe-return -- the API is tested for these
  return response.json();
}

/** @source RFC 9457: `title` and `detail` of problem details are for people. */
async function refusalOf(response: Response): Promise<Refusal> {
  const problem: unknown = await response.json().catch(() => null);
  const title = textOf(problem, "title") ?? `The service answered ${String(response.status)}`;
  const detail = textOf(problem, "detail");
  return new Refusal(response.status, detail === null ? title : `${title}: ${detail}`);
}

function textOf(problem: unknown, key: "title" | "detail"): string | null {
  if (typeof problem !== "object" || problem === null || !(key in problem)) return null;
  const text: unknown = Reflect.get(problem, key);
  return typeof text === "string" ? text : null;
}
