/** `bywash restore`: a copy in place of the history; what was there is kept. */
import { Command } from "commander";
import { collect } from "./collect.ts";

interface RestoreOptions {
  readonly config: string;
  readonly set: readonly string[];
  readonly from: string;
}

export function restoreCommand(): Command {
  return new Command("restore")
    .description("put a copy made by `backup` in place of the history")
    .requiredOption("-c, --config <file>", "settings file")
    .option("--set <path=value>", "override one key; may be repeated", collect, [])
    .requiredOption("--from <file>", "the copy; it is checked first, and stays as it is")
    .addHelpText(
      "after",
      "\nThe service must not run. What was there before is kept beside it.\n" +
        "\nExample:\n  bywash restore --config site.yaml --from /media/stick/malga.db",
    )
    .action(async (options: RestoreOptions) => {
      const { loadSite } = await import("../../config/load.ts");
      const { systemClock } = await import("../clock.ts");
      const { restore } = await import("../history/backup.ts");
      const { history } = loadSite({ path: options.config, overrides: options.set });
      const { path, previousPath } = restore({
        folder: history.folder,
        source: options.from,
        atMs: systemClock.wallMs(),
      });
      process.stdout.write(`restored: ${path}\n`);
      if (previousPath !== null) process.stdout.write(`kept: ${previousPath}\n`);
    });
}
