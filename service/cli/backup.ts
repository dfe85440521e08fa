/** `bywash backup`: a copy of the history, whether the service runs or not. */
import { Command } from "commander";
import { collect } from "./collect.ts";

interface BackupOptions {
  readonly config: string;
  readonly set: readonly string[];
  readonly out: string;
}

export function backupCommand(): Command {
  return new Command("backup")
    .description("copy the history to one file; the service may run meanwhile")
    .requiredOption("-c, --config <file>", "settings file")
    .option("--set <path=value>", "override one key; may be repeated", collect, [])
    .requiredOption("--out <file>", "the copy; one of that name is replaced once it is whole")
    .addHelpText(
      "after",
      "\nThe copy is checked before it gets its name. The journal is not in it: its files" +
        "\nof past days can be copied as they are.\n" +
        "\nExample:\n  bywash backup --config site.yaml --out /media/stick/malga.db",
    )
    .action(async (options: BackupOptions) => {
      const { loadSite } = await import("../../config/load.ts");
      const { backUp } = await import("../history/backup.ts");
      const { history } = loadSite({ path: options.config, overrides: options.set });
      backUp(history.folder, options.out);
      process.stdout.write(`copied and checked: ${options.out}\n`);
    });
}
