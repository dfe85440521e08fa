/** `bywash serve`: the daemon itself, until it is told to stop. */
import { join } from "node:path";
import closeWithGrace from "close-with-grace";
import { Command, Option } from "commander";
import type { Daemon } from "../daemon-contract.ts";
import type { Asker } from "../history/reading/ask.ts";
import type { SiteHistory } from "../site-history.ts";
import { within } from "../within.ts";
import type { ServiceLog } from "./service-log.ts";

interface ServeOptions {
  readonly config: string;
  readonly set: readonly string[];
  readonly shadow: boolean;
  readonly web: boolean;
  readonly logLevel: string;
}

/** Longer than the daemon's own waits for the broker's last acknowledgements. [ms] */
const STOP_WITHIN_MS = 15_000;
/** Of that, what the history may take to write its last rows. [ms] */
const HISTORY_WITHIN_MS = 5_000;

export function serveCommand(): Command {
  return new Command("serve")
    .description("run the service until SIGTERM or SIGINT; then everything is switched off")
    .requiredOption("-c, --config <file>", "settings file")
    .option("--set <path=value>", "override one key; may be repeated", collect, [])
    .option("--shadow", "decide and tell, but send no command", false)
    .option("--no-web", "without the web server")
    .addOption(
      new Option("--log-level <level>", "least grave line of the log")
        .choices(["debug", "info", "warn", "error"])
        .default("info"),
    )
    .addHelpText("after", "\nExample:\n  bywash serve --config site.yaml --shadow")
    .action(async (options: ServeOptions, command: Command) => {
      await serve(options, command.parent?.version() ?? "unknown");
    });
}

async function serve(options: ServeOptions, version: string): Promise<void> {
  const { loadSite } = await import("../../config/load.ts");
  const { systemClock } = await import("../clock.ts");
  const { step } = await import("../control/step.ts");
  const { createDaemon } = await import("../daemon.ts");
  const { createServiceLog } = await import("./service-log.ts");
  const { createReloader } = await import("../reload.ts");
  const { createSiteHistory } = await import("../site-history.ts");
  const { createAsker } = await import("../history/reading/ask.ts");
  const { createDayClose } = await import("../day-close.ts");
  const { createPastDesk } = await import("../past-desk.ts");
  const { DATABASE_FILE } = await import("../history/scribe.ts");
  let current = loadSite({ path: options.config, overrides: options.set });
  const load = () => (current = loadSite({ path: options.config, overrides: options.set }));
  const site = current;
  const log = await createServiceLog({
    name: "bywash",
    level: options.logLevel,
    output: "stdout",
  });
  for (const warning of site.warnings) log.warn({ warning }, "settings");
  const mode = options.shadow ? "shadow" : "active";
  const reload = createReloader({ load, daemon: () => daemon, log: log.part("settings") });
  const part = log.part("history");
  const history = createSiteHistory({ site, version, clock: systemClock, log: part });
  const restored = await history.start();
  const asker = createAsker({
    path: join(site.history.folder, DATABASE_FILE),
    clock: systemClock,
    onFailure: (reason) => part.warn({ reason }, "the history could not be read"),
  });
  const past = createPastDesk({ site: () => current, clock: systemClock, asker });
  const daemon = createDaemon({
    site,
    reload,
    history,
    past,
    restored,
    clock: systemClock,
    step,
    log,
    mode,
    version,
    ...(options.web ? {} : { webPort: null }),
    onFatal: () => process.exit(1),
  });
  const dayClose = createDayClose({
    site: () => current,
    asker,
    flush: history.flush,
    keep: history.keepFigures,
  });
  daemon.onDecision((_decision, observation) => dayClose.note(observation));
  const running = { daemon, history, asker, log };
  const grace = stopOnSignals(running);
  process.on("SIGHUP", reload);
  try {
    await daemon.start();
  } catch (error) {
    grace.uninstall();
    await end(running);
    throw error;
  }
  log.info({ site: site.id, mode, version, web: daemon.webAddress() }, "service runs");
}

/** A second signal, or a stop that takes too long, ends the process with 1. */
function stopOnSignals(running: Running): { readonly uninstall: () => void } {
  const { log } = running;
  return closeWithGrace(
    { delay: STOP_WITHIN_MS, logger: log, skip: ["beforeExit", "SIGHUP"] },
    async ({ signal, err }) => {
      if (err !== undefined) log.error({ err }, "failed; everything is switched off");
      else log.info({ signal }, "stopping; everything is switched off");
      await end(running);
    },
  );
}

interface Running {
  readonly daemon: Daemon;
  readonly history: SiteHistory;
  readonly asker: Asker;
  readonly log: ServiceLog;
}

/** Everything off first; a slow disk may cost the last minutes of the history, but no more. */
async function end({ daemon, history, asker, log }: Running): Promise<void> {
  await daemon.stop();
  await asker.close();
  await within(HISTORY_WITHIN_MS, history.close());
  log.info({}, "stopped");
  log.close();
}

function collect(value: string, before: readonly string[]): readonly string[] {
  return [...before, value];
}
