/** `bywash rig`: whole days through the service, a real broker and a simulated shed, in seconds. */
import { fileURLToPath } from "node:url";
import { Command, Option } from "commander";
import type { SiteSettings } from "../../config/site-settings.ts";
import { UserError } from "../errors.ts";
import { hangingLines } from "../hanging-text.ts";
import { collect } from "./collect.ts";

interface RigFlags {
  /** Absent: the goat dairy that comes with the package. */
  readonly config?: string;
  readonly set: readonly string[];
  readonly tick?: string;
  readonly startSoc: string;
  readonly broker?: string;
  readonly service: string;
  readonly bridge?: boolean;
  readonly refine?: string;
  readonly json?: boolean;
}

const EXAMPLE = fileURLToPath(new URL("../../config/examples/malga.yaml", import.meta.url));
/** Telemetry of a real shed comes more often than this. [ms] */
const LISTEN_MS = 5_000;

const AFTER_HELP = `
Where a replay calls the decisions alone, here every reading and every command
goes through a broker: its own, or with --broker one that runs already. There
the rig first listens for 5 s, and refuses a broker on which a service or a shed
of these settings lives: it would command the real switches.

With --service elsewhere the rig waits for \`bywash serve --rig\` at the address
that it says, and goes step by step with that process.

DAYFILE is a day file or a sample as in \`bywash replay\`. Days have to follow
one another without a hole.

Examples:
  bywash rig sample:measured
  bywash rig day.csv --config site.yaml --tick "10 s" --json
  bywash rig day.csv --config site.yaml --broker mqtt://127.0.0.1:1884
  bywash rig day.csv --config site.yaml --service elsewhere`;

export function rigCommand(): Command {
  return new Command("rig")
    .description("run whole days through the service, a broker and a simulated shed")
    .argument("<dayfile...>", "day files in order of time, or samples")
    .option("-c, --config <file>", "settings file; without it the goat dairy of the examples")
    .option("--set <path=value>", "override one key; may be repeated", collect, [])
    .option("--tick <time>", "a decision so often, 1 s to 60 s; without it as the settings say")
    .option("--start-soc <percent>", "state of charge to begin with", "80 %")
    .option("--broker <url>", "a broker without a real shed, in place of one of its own")
    .addOption(
      new Option("--service <where>", "the service runs here, or is a process of its own")
        .choices(["here", "elsewhere"])
        .default("here"),
    )
    .option("--bridge", "hold the last value across holes in the record")
    .option("--refine <seed>", "make likely minutes of hourly rows; each hour's energy stays")
    .option("--json", "print the result as one JSON object, the same as of a replay")
    .addHelpText("after", AFTER_HELP)
    .action(async (names: readonly string[], flags: RigFlags, command: Command) => {
      await run(names, flags, command.parent?.version() ?? "unknown");
    });
}

async function run(names: readonly string[], flags: RigFlags, version: string): Promise<void> {
  const { step } = await import("../control/step.ts");
  const { createServiceLog } = await import("./service-log.ts");
  const { systemClock } = await import("../clock.ts");
  const { reportText } = await import("./replay-report.ts");
  const { decodeDays, readDays, readShare } = await import("./replay-input.ts");
  const { readRefine } = await import("./replay-refine.ts");
  const { untilInterrupted } = await import("./rig-interrupt.ts");
  const { terminalProgress } = await import("./terminal-progress.ts");
  const { createRigRun } = await import("./rig-run.ts");
  const site = await siteFor(flags);
  const read = readDays(names, site, await decodeDays(names));
  const places = new Set<string>();
  const days = read(({ place, name }) => place !== null && places.add(name));
  // Errors alone, on standard error: standard output is the result's.
  const log = await createServiceLog({ name: "bywash rig", level: "error", output: "stderr" });
  const startedMs = systemClock.monotonicMs();
  const progress = terminalProgress("rig");
  const rig = createRigRun({
    site,
    days: readRefine(flags.refine, site)(days),
    startFraction: readShare(flags.startSoc),
    mayBridge: flags.bridge === true,
    speed: Infinity,
    forMs: Infinity,
    step,
    log,
    version,
    elsewhere: flags.broker === undefined ? null : elsewhere(flags.broker),
    hasWeb: false,
    serviceElsewhere: flags.service === "elsewhere" ? { onWaiting: sayWaiting } : null,
    listener: {
      onReady: () => Promise.resolve(),
      onDecision: () => undefined,
      onStep: (wallMs) => progress.tell(`at ${new Date(wallMs).toISOString().slice(0, 16)}Z`),
    },
  });
  const report = await untilInterrupted(rig).finally(() => {
    progress.end();
    log.close();
  });
  if (flags.json === true) {
    print(JSON.stringify(report, null, 2));
    return;
  }
  const tookS = ((systemClock.monotonicMs() - startedMs) / 1000).toFixed(1);
  const where = flags.broker ?? "a broker of its own";
  const ran = `${String(rig.decisionCount())} decisions through ${where} in ${tookS} s`;
  print(reportText({ report, site, events: [], recordedElsewhere: [...places] }));
  hangingLines("", ran).forEach(print);
}

/** Standard output is the result's. */
function sayWaiting(url: string): void {
  process.stderr.write(`waiting for: bywash serve --config FILE --rig ${url}\n`);
}

/** @throws UserError unless it is the address of a broker. */
function elsewhere(url: string): { readonly url: string; readonly listenMs: number } {
  if (/^mqtts?:\/\/\S+$/u.test(url)) return { url, listenMs: LISTEN_MS };
  const expected = "an address such as mqtt://127.0.0.1:1884";
  throw new UserError([{ code: "flag-value", where: "--broker", found: url, expected }]);
}

async function siteFor({ config, set, tick }: RigFlags): Promise<SiteSettings> {
  const { loadSite } = await import("../../config/load.ts");
  const { readStepS } = await import("./replay-input.ts");
  const overrides =
    tick === undefined ? set : [...set, `site.tick=${String(readStepS(tick, "--tick"))} s`];
  return loadSite({ path: config ?? EXAMPLE, overrides });
}

function print(text: string): void {
  process.stdout.write(`${text}\n`);
}
