/** The history of a morning that an earlier release has left, asked without a thread. */
import { join } from "node:path";
import { loadSite } from "../../config/load.ts";
import { openReader } from "../../service/history/reading/reader.ts";
import { answer } from "../../service/history/reading/questions.ts";
import { createPastDesk } from "../../service/past-desk.ts";
import type { PastDesk } from "../../service/past-desk.ts";

const RELEASE = "test/data/releases/0.1.0";

/** @param wallMs - The present; by default years later. */
export function releasedPast(wallMs = Date.UTC(2026, 0, 1)): PastDesk {
  const site = loadSite({ path: join(RELEASE, "site.yaml"), overrides: [] });
  return createPastDesk({
    site: () => site,
    clock: { wallMs: () => wallMs },
    asker: {
      ask(question) {
        const reader = openReader(join(RELEASE, "history.db"));
        try {
          return Promise.resolve(answer(reader, question));
        } finally {
          reader.close();
        }
      },
    },
  });
}
