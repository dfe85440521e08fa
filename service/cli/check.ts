/**
 * `bywash check`: what the service understood of a settings file, or all that is wrong with it; and
 * whether what it is to listen to really comes.
 */
import { Command } from "commander";
import type { SiteSettings } from "../../config/site-settings.ts";
import { UserError } from "../errors.ts";
import type { UserProblem } from "../errors.ts";
import type { LiveReport } from "../live-check/listen.ts";
import { collect } from "./collect.ts";
import type { SwitchOptions, SwitchResult } from "./check-switch.ts";

interface CheckOptions {
  readonly config: string;
  readonly set: readonly string[];
  readonly json: boolean;
  readonly live: boolean;
  readonly for: readonly string[];
  readonly switch?: true | readonly string[];
  readonly somebodyStandsBy: boolean;
  readonly url?: string;
  readonly tokenFile?: string;
}

export function checkCommand(): Command {
  return new Command("check")
    .description("check a settings file and say what was understood")
    .requiredOption("-c, --config <file>", "settings file")
    .option("--set <path=value>", "override one key; may be repeated", collect, [])
    .option("--live", "listen on the broker, and show what comes of each mapped signal", false)
    .option("--for <time...>", "with --live: how long at the most, such as 30 s", ["30 s"])
    .option("--switch [load...]", "with --live: have the running service test these switches")
    .option("--somebody-stands-by", "with --switch LOAD: said beforehand, not asked for", false)
    .option("--url <url>", "with --switch: the running service, if not where the settings say")
    .option("--token-file <file>", "with --switch: its token, if not web.tokenFile")
    .option("--json", "print the result as one JSON object", false)
    .addHelpText("after", HELP)
    .action(check);
}

const HELP = `
Examples:
  bywash check --config site.yaml --set loads.spring-pump.priority=1
  bywash check --config site.yaml --live --for 2 min
  bywash check --config site.yaml --live --switch water-heater

--live only listens, and ends when all signals are there, with 0; with 1 if one
is missing or cannot be used. --switch asks the running service to switch a load
on for about 20 s and off again, under all its interlocks and limits, while
somebody stands by it and can switch it off at its breaker; on a terminal it
asks for a "yes" first. It proves the switch, not the wiring: that is for a
licensed electrician under local codes.`;

async function check(options: CheckOptions): Promise<void> {
  const { loadSite } = await import("../../config/load.ts");
  const { describeSite } = await import("./site-description.ts");
  try {
    const site = loadSite({ path: options.config, overrides: options.set });
    const wishes = await liveWishes(site, options);
    if (!options.json) print(describeSite(site));
    const live = wishes === null ? {} : await liveResults(site, wishes, options);
    if (options.json) print(asJson({ ok: true, problems: [], site, ...live }));
  } catch (error) {
    if (!options.json || !(error instanceof UserError)) throw error;
    print(asJson(failed(error.problems)));
    process.exitCode = 2;
  }
}

function failed(problems: readonly UserProblem[]): object {
  return { ok: false, problems, site: null };
}

interface LiveWishes {
  readonly forMs: number;
  readonly loads: readonly string[];
  readonly switching: SwitchOptions | null;
}

/** @throws UserError for flags that do not fit, before anything is listened to. */
async function liveWishes(site: SiteSettings, options: CheckOptions): Promise<LiveWishes | null> {
  const { live, somebodyStandsBy, url = null, tokenFile = null } = options;
  const wanted = options.switch;
  if (!live) {
    if (wanted === undefined) return null;
    const expected = "--live besides: first it is heard what the site says";
    throw new UserError([{ code: "flag-missing", where: "--switch", expected }]);
  }
  const { listeningMs } = await import("./check-live.ts");
  const forMs = listeningMs(options.for.join(" "));
  if (wanted === undefined) return { forMs, loads: [], switching: null };
  const { loadsToSwitch } = await import("./check-switch.ts");
  const switching = { switch: wanted, somebodyStandsBy, url, tokenFile };
  return { forMs, loads: loadsToSwitch(site, switching), switching };
}

interface LiveResults {
  readonly live: LiveReport;
  readonly switches: readonly SwitchResult[];
}

async function liveResults(
  site: SiteSettings,
  { forMs, loads, switching }: LiveWishes,
  { json }: CheckOptions,
): Promise<LiveResults> {
  const { hearSite, isAllThere, tellLive } = await import("./check-live.ts");
  const live = await hearSite(site, forMs);
  if (!json) print(`\n${tellLive(live)}`);
  if (!isAllThere(live)) process.exitCode = 1;
  if (switching === null) return { live, switches: [] };
  const { tellSwitch, testSwitches } = await import("./check-switch.ts");
  const switches = await testSwitches(site, loads, switching);
  if (!json) for (const one of switches) print(`\n${tellSwitch(one)}`);
  if (!switches.every(({ isProven }) => isProven)) process.exitCode = 1;
  return { live, switches };
}

function asJson(result: unknown): string {
  return JSON.stringify(result, null, 2);
}

function print(text: string): void {
  process.stdout.write(`${text}\n`);
}
