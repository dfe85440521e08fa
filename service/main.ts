#!/usr/bin/env node
/** From the command line to a command and its exit code: 0 done, 1 failed, 2 a user's error. */
import { existsSync, readFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { Command, CommanderError } from "commander";
import { alertsCommand } from "./cli/alerts.ts";
import { backupCommand } from "./cli/backup.ts";
import { boundCommand } from "./cli/bound.ts";
import { checkCommand } from "./cli/check.ts";
import { demoCommand } from "./cli/demo.ts";
import { clearCommand } from "./cli/clear.ts";
import { explainCommand } from "./cli/explain.ts";
import { exportCommand } from "./cli/export.ts";
import { importCommand } from "./cli/import.ts";
import { holdCommand, releaseCommand, runCommand } from "./cli/load-request.ts";
import { learnedCommand } from "./cli/learned.ts";
import { replayCommand } from "./cli/replay.ts";
import { rigCommand } from "./cli/rig.ts";
import { reportCommand } from "./cli/report.ts";
import { restoreCommand } from "./cli/restore.ts";
import { reloadCommand } from "./cli/reload.ts";
import { schemaCommand } from "./cli/schema.ts";
import { serveCommand } from "./cli/serve.ts";
import { timesCommand } from "./cli/times.ts";
import { weatherCommand } from "./cli/weather.ts";
import { tuneCommand } from "./cli/tune.ts";
import { UserError } from "./errors.ts";
import { hangingLines } from "./hanging-text.ts";

/** Every command is one file in `cli/`; its heavy parts are imported when it runs. */
const COMMANDS = [
  demoCommand,
  checkCommand,
  replayCommand,
  rigCommand,
  weatherCommand,
  boundCommand,
  tuneCommand,
  importCommand,
  exportCommand,
  schemaCommand,
  serveCommand,
  explainCommand,
  learnedCommand,
  timesCommand,
  alertsCommand,
  reportCommand,
  clearCommand,
  runCommand,
  holdCommand,
  releaseCommand,
  backupCommand,
  restoreCommand,
  reloadCommand,
];

async function run(args: readonly string[]): Promise<void> {
  const program = new Command("bywash")
    .description(
      "Decides which loads of an off-grid site may run on power " +
        "that would otherwise be thrown away",
    )
    .version(packageVersion())
    .showSuggestionAfterError();
  for (const create of COMMANDS) program.addCommand(create());
  program.exitOverride();
  for (const command of program.commands) {
    command.exitOverride();
    command.showHelpAfterError(`\`bywash ${command.name()} --help\` shows how, with an example.`);
  }
  await program.parseAsync(args, { from: "user" });
}

/** The program runs from `service/` and from `dist/service/`; the package is above both. */
function packageVersion(): string {
  let folder = dirname(fileURLToPath(import.meta.url));
  while (!existsSync(join(folder, "package.json")) && dirname(folder) !== folder) {
    folder = dirname(folder);
  }
  const content: unknown = JSON.parse(readFileSync(join(folder, "package.json"), "utf8"));
  const hasVersion = typeof content === "object" && content !== null && "version" in content;
  return hasVersion ? String(content.version) : "unknown";
}

function exitCodeFor(error: unknown): number {
  // Commander has already printed its own; help and version are not errors.
  if (error instanceof CommanderError) return error.exitCode === 0 ? 0 : 2;
  if (error instanceof UserError) {
    process.stderr.write(`${error.message}\n`);
    return 2;
  }
  const message = error instanceof Error ? error.message : String(error);
  process.stderr.write(`${hangingLines("bywash: ", message, 2).join("\n")}\n`);
  return 1;
}

// A reader such as `head` may close the pipe when it has seen enough: that is no failure.
process.stdout.on("error", (error: NodeJS.ErrnoException) => {
  process.exit(error.code === "EPIPE" ? 0 : 1);
});

try {
  await run(process.argv.slice(2));
} catch (error) {
  process.exitCode = exitCodeFor(error);
}
