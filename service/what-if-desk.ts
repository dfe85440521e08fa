/**
 * Recorded days as they would have been with other settings, and recorded days as day files. One of
 * each is worked out at a time, beside the loop, and all of it ends with the service.
 */
import { randomUUID } from "node:crypto";
import type { DayThread, StartDayThread } from "./day-thread.ts";
import type { Log } from "./log.ts";
import type { WhatIfProgress, WhatIfQuestion, WhatIfResult } from "./what-if-contract.ts";

export interface WhatIfView {
  readonly formatVersion: 1;
  readonly id: string;
  readonly state: "running" | "done" | "refused" | "failed" | "cancelled";
  readonly progress: WhatIfProgress;
  /** Why it was refused, or failed. */
  readonly problems: readonly string[];
  /** null unless done. */
  readonly result: WhatIfResult | null;
}

export type DayFileAnswer =
  | { readonly kind: "file"; readonly text: string }
  | { readonly kind: "refused"; readonly problems: readonly string[] }
  | { readonly kind: "failed" | "busy" };

export interface WhatIfDesk {
  /** @returns null while another one is worked out. */
  readonly begin: (question: WhatIfQuestion) => WhatIfView | null;
  /** @returns null if there is none of that name, or no longer. */
  readonly view: (id: string) => WhatIfView | null;
  /** What is over stays as it is. @returns null as of `view` */
  readonly cancel: (id: string) => WhatIfView | null;
  readonly dayFile: (localDay: number) => Promise<DayFileAnswer>;
  readonly close: () => Promise<void>;
}

/** So many are remembered: a person looks at one, perhaps beside the one before. */
const KEPT_MAX = 4;
const NOT_BEGUN: WhatIfProgress = { stage: "reading", share: 0 };

export interface WhatIfDeskOptions {
  /** The settings file, and what the service's own command line sets over it. */
  readonly path: string;
  readonly overrides: readonly string[];
  readonly start: StartDayThread;
  readonly log: Log;
}

interface Desk {
  readonly options: WhatIfDeskOptions;
  /** By id, the oldest first. */
  readonly views: Map<string, WhatIfView>;
  running: { readonly id: string; readonly thread: DayThread } | null;
  file: DayThread | null;
}

export function createWhatIfDesk(options: WhatIfDeskOptions): WhatIfDesk {
  const desk: Desk = { options, views: new Map(), running: null, file: null };
  return {
    begin: (question) => (desk.running === null ? begin(desk, question) : null),
    view: (id) => desk.views.get(id) ?? null,
    cancel(id) {
      if (desk.running?.id === id) {
        void desk.running.thread.end();
        desk.running = null;
        change(desk, id, { state: "cancelled" });
      }
      return desk.views.get(id) ?? null;
    },
    async dayFile(localDay) {
      if (desk.file !== null) return { kind: "busy" };
      const { path, overrides, start } = options;
      desk.file = start({ kind: "file", path, overrides, localDay }, () => undefined);
      const outcome = await desk.file.outcome;
      desk.file = null;
      if (outcome.kind === "file" || outcome.kind === "refused") return outcome;
      return { kind: "failed" };
    },
    async close() {
      await Promise.all([desk.running?.thread.end(), desk.file?.end()]);
    },
  };
}

function begin(desk: Desk, { localDay, changes }: WhatIfQuestion): WhatIfView {
  const { path, overrides, start } = desk.options;
  const view: WhatIfView = {
    formatVersion: 1,
    id: randomUUID(),
    state: "running",
    progress: NOT_BEGUN,
    problems: [],
    result: null,
  };
  desk.views.set(view.id, view);
  const [oldest] = desk.views.keys();
  if (desk.views.size > KEPT_MAX && oldest !== undefined) desk.views.delete(oldest);
  const thread = start({ kind: "what-if", path, overrides, localDay, changes }, (progress) =>
    change(desk, view.id, { progress }),
  );
  desk.running = { id: view.id, thread };
  void finish(desk, view.id, thread);
  return view;
}

async function finish(desk: Desk, id: string, thread: DayThread): Promise<void> {
  const outcome = await thread.outcome;
  if (desk.running?.id === id) desk.running = null;
  switch (outcome.kind) {
    case "what-if": {
      change(desk, id, { state: "done", result: outcome.result });
      return;
    }
    case "refused": {
      change(desk, id, { state: "refused", problems: outcome.problems });
      return;
    }
    case "ended": {
      change(desk, id, { state: "cancelled" });
      return;
    }
    case "file":
    case "failed": {
      const reason = outcome.kind === "failed" ? outcome.reason : "another kind of answer";
      desk.options.log.warn({ reason }, "a recorded day could not be replayed");
      change(desk, id, { state: "failed", problems: [reason] });
      return;
    }
  }
}

/** What is over stays as it is. */
function change({ views }: Desk, id: string, part: Partial<WhatIfView>): void {
  const view = views.get(id);
  if (view?.state === "running") views.set(id, { ...view, ...part });
}
