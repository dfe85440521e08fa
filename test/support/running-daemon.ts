/** A daemon on a manual clock and a scripted core, with real connections. */
import type { SiteSettings } from "../../config/site-settings.ts";
import { createDaemon } from "../../service/daemon.ts";
import type { Daemon, DaemonOptions } from "../../service/daemon-contract.ts";
import { createMemoryLog } from "./log.ts";
import { createManualClock } from "./manual-clock.ts";
import type { ManualClock } from "./manual-clock.ts";
import { createScriptedStep } from "./scripted-step.ts";
import type { ScriptedStep } from "./scripted-step.ts";
import { until } from "./until.ts";

export interface RunningDaemon {
  readonly daemon: Daemon;
  readonly clock: ManualClock;
  readonly core: ScriptedStep;
  readonly logLines: readonly string[];
  /** One regular tick. */
  readonly tick: () => void;
  /** Ticks until the last observation fits, giving the network time in between. */
  readonly tickUntil: (
    fits: (last: ScriptedStep["observations"][number]) => boolean,
  ) => Promise<void>;
}

/** A lost connection may wait for 15 s before the next attempt, and a busy machine takes longer. */
const LIMIT_MS = 120_000;

/**
 * Its first tick waits until the broker has let it in and has answered its subscription. The daemon
 * itself waits for 3 s at the most, which a busy machine may need.
 *
 * @param isLetIn - False: the broker is out of reach, or refuses it.
 */
export async function runDaemon(
  site: SiteSettings,
  overrides: Partial<DaemonOptions> = {},
  isLetIn = true,
): Promise<RunningDaemon> {
  const clock = createManualClock();
  const core = createScriptedStep();
  const { log, lines } = createMemoryLog();
  const daemon = createDaemon({
    site,
    clock,
    step: core.step,
    log,
    mode: "active",
    webPort: null,
    ...overrides,
  });
  await daemon.start();
  if (isLetIn) await until(() => daemon.state().isBrokerConnected && daemon.isListening());
  clock.advance(0);
  const tick = (): void => clock.advance(site.control.tickMs);
  return {
    daemon,
    clock,
    core,
    logLines: lines,
    tick,
    async tickUntil(fits) {
      const untilMs = performance.now() + LIMIT_MS;
      while (performance.now() < untilMs) {
        tick();
        const last = core.observations.at(-1);
        if (last !== undefined && fits(last)) return;
        await new Promise((resolve) => setTimeout(resolve, 10));
      }
      throw new Error(`not within ${LIMIT_MS} ms; log:\n${lines.join("\n")}`);
    },
  };
}
