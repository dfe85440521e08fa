/** `bywash check`: what the service understood of a settings file, or all that is wrong with it. */
import { Command } from "commander";
import { UserError } from "../errors.ts";
import { collect } from "./collect.ts";

interface CheckOptions {
  readonly config: string;
  readonly set: readonly string[];
  readonly json: boolean;
}

export function checkCommand(): Command {
  return new Command("check")
    .description("check a settings file and say what was understood")
    .requiredOption("-c, --config <file>", "settings file")
    .option("--set <path=value>", "override one key; may be repeated", collect, [])
    .option("--json", "print the result as one JSON object", false)
    .addHelpText(
      "after",
      "\nExample:\n  bywash check --config site.yaml --set loads.spring-pump.priority=1",
    )
    .action(async (options: CheckOptions) => {
      const { loadSite } = await import("../../config/load.ts");
      const { describeSite } = await import("./site-description.ts");
      try {
        const site = loadSite({ path: options.config, overrides: options.set });
        print(options.json ? asJson({ ok: true, problems: [], site }) : describeSite(site));
      } catch (error) {
        if (!options.json || !(error instanceof UserError)) throw error;
        print(asJson({ ok: false, problems: error.problems, site: null }));
        process.exitCode = 2;
      }
    });
}

function asJson(result: unknown): string {
  return JSON.stringify(result, null, 2);
}

function print(text: string): void {
  process.stdout.write(`${text}\n`);
}
