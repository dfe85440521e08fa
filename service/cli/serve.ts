/** `bywash serve`: the daemon itself, until it is told to stop. */
import { Command, Option } from "commander";
import { collect } from "./collect.ts";
import type { ServeOptions } from "./serve-run.ts";

const AFTER_HELP = `
With --rig the service takes its time from \`bywash rig DAYFILE --service
elsewhere\`, never from this machine's clock, and ends when the rig does. It says
so wherever it is asked, refuses the site's own broker and a broker on which
anything but the rig speaks for the shed, and keeps no history unless
--set history.folder=FOLDER names a folder for this run.

Examples:
  bywash serve --config site.yaml --shadow
  bywash serve --config site.yaml --rig mqtt://127.0.0.1:1884`;

export function serveCommand(): Command {
  return new Command("serve")
    .description("run the service until SIGTERM or SIGINT; then everything is switched off")
    .requiredOption("-c, --config <file>", "settings file")
    .option("--set <path=value>", "override one key; may be repeated", collect, [])
    .option("--shadow", "decide and tell, but send no command", false)
    .option("--no-web", "without the web server")
    .option("--rig <url>", "live in the simulated time of a rig, on its broker alone")
    .addOption(
      new Option("--log-level <level>", "least grave line of the log")
        .choices(["debug", "info", "warn", "error"])
        .default("info"),
    )
    .addHelpText("after", AFTER_HELP)
    .action(async (options: ServeOptions, command: Command) => {
      const { serve } = await import("./serve-run.ts");
      await serve(options, command.parent?.version() ?? "unknown");
    });
}
