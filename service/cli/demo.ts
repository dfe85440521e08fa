/** `bywash demo`: a simulated shed on a broker of its own, watched over by the real service. */
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { Command } from "commander";
import type { SiteSettings } from "../../config/site-settings.ts";
import type { DaySeries } from "../../simulator/days/day-file.ts";
import { hangingLines } from "../hanging-text.ts";
import { collect } from "./collect.ts";

interface DemoFlags {
  /** Absent: the goat dairy that comes with the package. */
  readonly config?: string;
  readonly set: readonly string[];
  readonly day?: string;
  readonly sky: string;
  readonly date: string;
  readonly seed: string;
  readonly startSoc: string;
  readonly speed: string;
  readonly for?: string;
  readonly json?: boolean;
}

const EXAMPLE = fileURLToPath(new URL("../../config/examples/malga.yaml", import.meta.url));
const DAY_MS = 86_400_000;
/** A step takes the machine about this long; a faster demo takes longer steps. [ms] */
const STEP_COST_MS = 2.5;
const SECOND_MS = 1000;

const AFTER_HELP = `
The days are made up, in the site's own place, unless --day names a recorded
one.

Examples:
  bywash demo
  bywash demo --speed 3600 --for 24h --json
  bywash demo --day sample:measured`;

export function demoCommand(): Command {
  return new Command("demo")
    .description("watch the service switch the loads of a simulated shed")
    .option("-c, --config <file>", "settings file; without it the goat dairy of the examples")
    .option("--set <path=value>", "override one key; may be repeated", collect, [])
    .option("--day <file>", "a day file, or a sample as in `bywash replay`; made up without it")
    .option("--sky <kind>", "sky of made-up days: broken, clear or overcast", "broken")
    .option("--date <date>", "local date of the first made-up day", "2025-06-12")
    .option("--seed <number>", "made-up days differ by it", "1")
    .option("--start-soc <percent>", "state of charge to begin with", "80 %")
    .option("--speed <number>", "simulated seconds in a second", "1200")
    .option("--for <time>", "simulated time to run; the recorded day, or 24 h, without it")
    .option("--json", "print the outcome as one JSON object, and nothing else")
    .addHelpText("after", AFTER_HELP)
    .action(async (flags: DemoFlags, command: Command) => {
      await run(flags, command.parent?.version() ?? "unknown");
    });
}

async function run(flags: DemoFlags, version: string): Promise<void> {
  const { step } = await import("../control/step.ts");
  const { createRigRun } = await import("./rig-run.ts");
  const { untilInterrupted } = await import("./rig-interrupt.ts");
  const { createDemoScreen } = await import("./demo-screen.ts");
  const { createServiceLog } = await import("./service-log.ts");
  const { reportText } = await import("./replay-report.ts");
  const { readNumber, readShare, readTimeMs } = await import("./replay-input.ts");
  const speed = readNumber("--speed", flags.speed, { min: 1, max: 100_000 });
  const site = await siteFor(flags, speed);
  const isJson = flags.json === true;
  const screen = createDemoScreen(site, print);
  // Errors alone, on standard error: standard output is the demo's.
  const log = await createServiceLog({ name: "bywash demo", level: "error", output: "stderr" });
  const demo = createRigRun({
    site,
    days: await daysFor(flags, site),
    startFraction: readShare(flags.startSoc),
    speed,
    forMs: flags.for === undefined ? DAY_MS : readTimeMs("--for", flags.for),
    step,
    log,
    version,
    mayBridge: false,
    elsewhere: null,
    hasWeb: true,
    serviceElsewhere: null,
    listener: {
      async onReady(addresses) {
        if (!isJson) heading(flags, { site, speed, ...addresses }).forEach(print);
      },
      onDecision(decision, time) {
        if (!isJson) screen.show(decision, time);
      },
    },
  });
  const report = await untilInterrupted(demo).finally(() => log.close());
  if (isJson) print(JSON.stringify(report, null, 2));
  else print(`\n${reportText({ report, site, events: [], recordedElsewhere: [] })}`);
}

/** The settings, with a tick that the machine can keep up with at this speed. */
async function siteFor(flags: DemoFlags, speed: number): Promise<SiteSettings> {
  const { loadSite } = await import("../../config/load.ts");
  const site = loadSite({ path: flags.config ?? EXAMPLE, overrides: flags.set });
  const seconds = Math.ceil((speed * STEP_COST_MS) / SECOND_MS);
  // Steps that divide a minute keep in line with the rows of a day.
  const wholeS = [1, 2, 3, 4, 5, 6, 10, 12, 15, 20, 30].find((step) => step >= seconds) ?? 60;
  const tickMs = Math.max(site.control.tickMs, wholeS * SECOND_MS);
  // Nothing of a demo is to stay behind, beside the settings or elsewhere, however it ends.
  const folder = mkdtempSync(join(tmpdir(), "bywash-demo-"));
  process.once("exit", () => {
    rmSync(folder, { recursive: true, force: true });
  });
  const tokenFile = join(folder, "token");
  return { ...site, web: { ...site.web, tokenFile }, control: { ...site.control, tickMs } };
}

async function daysFor(flags: DemoFlags, site: SiteSettings): Promise<Iterable<DaySeries>> {
  const { decodeDays, readChoice, readDate, readDays, readNumber } =
    await import("./replay-input.ts");
  if (flags.day !== undefined) {
    const names = [flags.day];
    return readDays(names, site, await decodeDays(names))(() => undefined);
  }
  const { SKY_KINDS } = await import("../../simulator/weather/cloud.ts");
  const { syntheticDays } = await import("../../simulator/weather/synthetic-day.ts");
  return syntheticDays({
    site,
    localDate: readDate("--date", flags.date),
    seed: readNumber("--seed", flags.seed, { min: 0, max: 1_000_000_000 }),
    kind: readChoice("--sky", flags.sky, SKY_KINDS),
  });
}

/** Where the second column of the heading begins. */
const HEADING_INDENT = 20;

interface Heading {
  readonly site: SiteSettings;
  readonly speed: number;
  readonly broker: string;
  readonly web: string | null;
}

function heading(flags: DemoFlags, shown: Heading): readonly string[] {
  const { site, speed, broker, web } = shown;
  const weather =
    flags.day === undefined
      ? `made up: ${flags.sky} sky from ${flags.date}, seed ${flags.seed}`
      : `recorded: ${flags.day}`;
  const everyS = String(site.control.tickMs / SECOND_MS);
  const lines = [
    `${site.label}, in a simulated shed`,
    `weather, household  ${weather}`,
    `broker              ${broker}, open to any MQTT client on this machine`,
    ...(web === null
      ? []
      : [`page                ${web}/`, `sign in with        the text in ${site.web.tokenFile}`]),
    `pace                ${String(speed)} × real time, a decision every ${everyS} s`,
    "Ctrl-C ends it.",
    "",
  ];
  return lines.flatMap((line) => hangingLines("", line, HEADING_INDENT));
}

function print(text: string): void {
  process.stdout.write(`${text}\n`);
}
