/** A serving process from its start to its end, as `bywash serve` asks for it. */
import closeWithGrace from "close-with-grace";
import { loadSite } from "../../config/load.ts";
import type { SiteSettings } from "../../config/site-settings.ts";
import { systemClock } from "../clock.ts";
import { step } from "../control/step.ts";
import type { Daemon } from "../daemon-contract.ts";
import { createDaemon } from "../daemon.ts";
import type { RootLog } from "../log.ts";
import { createReloader } from "../reload.ts";
import { createSettingsDesk } from "../settings-desk.ts";
import { within } from "../within.ts";
import { keep } from "./serve-history.ts";
import type { KeptHistory } from "./serve-history.ts";
import type { FollowedRig } from "./serve-rig.ts";
import { createServiceLog } from "./service-log.ts";
import type { ServiceLog } from "./service-log.ts";

export interface ServeOptions {
  readonly config: string;
  readonly set: readonly string[];
  readonly shadow: boolean;
  readonly web: boolean;
  /** Absent: real time, and the broker of the settings. */
  readonly rig?: string;
  readonly logLevel: string;
}

/** Somebody starts the rig by hand, and it listens for a while before it speaks. [ms] */
const RIG_WITHIN_MS = 60_000;
/** Longer than the daemon's own waits for the broker's last acknowledgements. [ms] */
const STOP_WITHIN_MS = 15_000;
/** Of that, what the history may take to write its last rows. [ms] */
const HISTORY_WITHIN_MS = 5_000;

export async function serve(options: ServeOptions, version: string): Promise<void> {
  const written = loadSite({ path: options.config, overrides: options.set });
  const log = await createServiceLog({
    name: "bywash",
    level: options.logLevel,
    output: "stdout",
  });
  for (const warning of written.warnings) log.warn({ warning }, "settings");
  const rig = await rigOf(options, { site: written, log });
  const clock = rig?.clock ?? systemClock;
  const placed = (site: SiteSettings): SiteSettings => rig?.placed(site) ?? site;
  let current = placed(written);
  const load = () => (current = placed(loadSite({ path: options.config, overrides: options.set })));
  const site = current;
  const mode = options.shadow ? "shadow" : "active";
  const reload = createReloader({ load, daemon: () => daemon, log: log.part("settings") });
  const kept = await keptBy(options, rig, { site, current: () => current, version, clock, log });
  const daemon = createDaemon({
    site,
    reload,
    settings: createSettingsDesk({
      path: options.config,
      overrides: options.set,
      isEditable: () => site.web.isEditable,
      reload,
      log: log.part("settings"),
    }),
    clock,
    step,
    log,
    mode,
    version,
    ...(kept === null ? {} : { history: kept.history, past: kept.past, restored: kept.restored }),
    // In a rig's time the site is elsewhere, and the file does not say where.
    ...(kept === null || rig !== null ? {} : { whatIf: kept.whatIf }),
    ...(rig === null ? {} : { recordedTime: rig.recordedTime, broker: rig.access }),
    ...(options.web ? {} : { webPort: null }),
    onFatal: () => process.exit(1),
  });
  if (kept !== null) daemon.onDecision((_decision, observation) => kept.note(observation));
  const running: Running = { daemon, kept, rig, log, ending: null };
  const grace = stopOnSignals(running);
  process.on("SIGHUP", reload);
  try {
    await daemon.start();
  } catch (error) {
    await endByItself(running, grace);
    throw error;
  }
  const web = daemon.webAddress();
  log.info({ site: site.id, mode, version, isTimeSimulated: rig !== null, web }, "service runs");
  if (rig !== null) await followToTheEnd(rig, running, grace);
}

/** A rig's days are kept only where a folder of their own is named. */
async function keptBy(
  { config: path, set: overrides }: ServeOptions,
  rig: FollowedRig | null,
  of: Omit<Parameters<typeof keep>[0], "path" | "overrides" | "log"> & { readonly log: RootLog },
): Promise<KeptHistory | null> {
  const isNamed = overrides.some((override) => override.startsWith("history.folder="));
  if (rig !== null && !isNamed) return null;
  return keep({ ...of, path, overrides, log: of.log.part("history") });
}

async function rigOf(
  { rig: url }: ServeOptions,
  { site, log }: { readonly site: SiteSettings; readonly log: ServiceLog },
): Promise<FollowedRig | null> {
  if (url === undefined) return null;
  const { awaitRig } = await import("./serve-rig.ts");
  try {
    return await awaitRig(site, url, { log: log.part("broker"), withinMs: RIG_WITHIN_MS });
  } catch (error) {
    log.close();
    throw error;
  }
}

/** A rig that has ended ends the service, with everything off. */
async function followToTheEnd(rig: FollowedRig, running: Running, grace: Grace): Promise<void> {
  try {
    await rig.follow(running.daemon, running.kept?.history ?? null);
  } finally {
    await endByItself(running, grace);
  }
}

interface Grace {
  readonly uninstall: () => void;
}

/** A signal that comes meanwhile waits, too, until everything is off. */
async function endByItself(running: Running, grace: Grace): Promise<void> {
  await end(running);
  grace.uninstall();
}

/** A second signal, or a stop that takes too long, ends the process with 1. */
function stopOnSignals(running: Running): Grace {
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
  /** null: nothing is kept. */
  readonly kept: KeptHistory | null;
  readonly rig: FollowedRig | null;
  readonly log: ServiceLog;
  /** null: runs on. */
  ending: Promise<void> | null;
}

/** Once, whoever asks for it: a signal, or an end by itself. */
function end(running: Running): Promise<void> {
  return (running.ending ??= endRooms(running));
}

/** Everything off first; a slow disk may cost the last minutes of the history, but no more. */
async function endRooms({ daemon, kept, rig, log }: Running): Promise<void> {
  await daemon.stop();
  await rig?.close();
  if (kept !== null) {
    await Promise.all([kept.asker.close(), kept.whatIf.close()]);
    await within(HISTORY_WITHIN_MS, kept.history.close());
  }
  log.info({}, "stopped");
  log.close();
}
