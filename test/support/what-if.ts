/** What a desk of replayed days answers, without a thread. */
import { join, resolve } from "node:path";
import { dayFileText, whatIf } from "../../service/cli/what-if-day.ts";
import type { WhatIfDesk, WhatIfView } from "../../service/what-if-desk.ts";

const RELEASE = "test/data/releases/0.1.0";
const FROM = {
  path: join(RELEASE, "site.yaml"),
  overrides: [`history.folder=${resolve(RELEASE)}`],
};
export const DONE = "a-replay-that-is-done";

/** Over the morning that a release has left; the question in `begin` is answered at once. */
export function releasedWhatIf(): WhatIfDesk {
  const views = new Map<string, WhatIfView>();
  const view = (id: string): WhatIfView | null => views.get(id) ?? null;
  return {
    begin(question) {
      const progress = { stage: "replaying", share: 1 } as const;
      const running: WhatIfView = {
        formatVersion: 1,
        id: DONE,
        state: "running",
        progress,
        problems: [],
        result: null,
      };
      const result = whatIf({ kind: "what-if", ...FROM, ...question }, () => undefined);
      views.set(DONE, { ...running, state: "done", result });
      return running;
    },
    view,
    cancel: view,
    dayFile: (localDay) =>
      Promise.resolve({ kind: "file", text: dayFileText({ ...FROM, localDay }) }),
    close: () => Promise.resolve(),
  };
}
