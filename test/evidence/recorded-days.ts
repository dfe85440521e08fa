/**
 * Simulated days as a real shed would have them on file: through the daemon over MQTT, which sees
 * throttled power alone, into its history, and out again by the export.
 */
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { createLocalCalendar } from "../../config/local-calendar.ts";
import type { SiteSettings } from "../../config/site-settings.ts";
import { exportedDays } from "../../service/cli/export-days.ts";
import { createRigRun } from "../../service/cli/rig-run.ts";
import { step } from "../../service/control/step.ts";
import type { Step } from "../../service/control/step.ts";
import { recordedDays } from "../../service/history/reading/days.ts";
import { openReader } from "../../service/history/reading/reader.ts";
import { createScribe, DATABASE_FILE } from "../../service/history/scribe.ts";
import { createDayOutput } from "../../simulator/days/day-output.ts";
import type { DaySeries } from "../../simulator/days/day-file.ts";
import { silentLog } from "../support/log.ts";
import { testHistory } from "../support/site.ts";

export interface Recording {
  readonly site: SiteSettings;
  readonly days: readonly DaySeries[];
  /** [1] 0…1 */
  readonly startFraction: number;
  /** Of the day file that is written. */
  readonly path: string;
}

export async function recordOverMqtt({ site, days, startFraction, path }: Recording) {
  const folder = mkdtempSync(join(tmpdir(), "bywash-recorded-"));
  try {
    const history = { history: testHistory(folder), control: site.control, codeVersion: "1.2.3" };
    const { receive } = createScribe({ ...history, wallMs: 0 }, (message) => {
      if (message.kind === "said") throw new Error(message.message);
    });
    await createRigRun({
      site,
      days,
      startFraction,
      speed: Infinity,
      forMs: Infinity,
      step: recordedStep(receive),
      log: silentLog,
      version: "test",
      mayBridge: false,
      elsewhere: null,
      serviceElsewhere: null,
      hasWeb: false,
      listener: { onReady: () => Promise.resolve(), onDecision: () => undefined },
    }).run();
    receive({ kind: "close", ticket: 1 });
    await exportTo(path, folder, site);
  } finally {
    rmSync(folder, { recursive: true });
  }
}

/** A step that tells the scribe of its ticks. */
function recordedStep(receive: ReturnType<typeof createScribe>["receive"]): Step {
  return (memoryBefore, observation, settings) => {
    const result = step(memoryBefore, observation, settings);
    receive({ kind: "tick", tick: { observation, ...result }, memoryBefore });
    return result;
  };
}

async function exportTo(path: string, folder: string, site: SiteSettings): Promise<void> {
  const reader = openReader(join(folder, DATABASE_FILE));
  const output = await createDayOutput({ path, isSplit: false, mayReplace: false });
  const options = { site, calendar: createLocalCalendar(site.timeZone), withPotential: false };
  const which = recordedDays(reader, { fromDay: 0, toDay: 1e6, limit: 1000 }).reverse();
  for (const piece of exportedDays(reader, which, options)) output.write(piece);
  reader.close();
  output.commit();
}
