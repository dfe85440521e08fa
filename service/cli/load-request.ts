/** `bywash run`, `bywash hold` and `bywash release`: a person asks something of a load. */
import { Command } from "commander";
import type { RequestOptions, TimedOptions } from "./load-request-run.ts";

export function runCommand(): Command {
  return timedCommand(
    "run",
    "ask a load to run for a time, on the battery if need be",
    "\nExample:\n  bywash run water-heater --for 30 min --token-file malga.token\n\n" +
      "The battery's marks and the surplus no longer count for it; interlocks, tank\n" +
      "limits, quotas, rests, starts per hour, the inverter's and the feeder's room\n" +
      "and the battery's floor do. Nothing that ends a run starts it again.",
  );
}

export function holdCommand(): Command {
  return timedCommand(
    "hold",
    "keep a load off for a time",
    "\nExample:\n  bywash hold spring-pump --for 2 h --token-file malga.token\n\n" +
      "It goes off at once and stays off, also over a restart of the service. This is\n" +
      "no isolation: whoever works on a load switches off its breaker and locks it.",
  );
}

export function releaseCommand(): Command {
  return command(
    "release",
    "let a load that was asked to run, or held off, be decided on as always",
    "\nExample:\n  bywash release spring-pump --token-file malga.token",
  ).action(async (id: string, options: RequestOptions) => {
    const { ask } = await import("./load-request-run.ts");
    await ask(id, { request: "release" }, options);
  });
}

function timedCommand(request: "run" | "hold", about: string, help: string): Command {
  return command(request, about, help)
    .option("--for <time...>", "for how long, such as 30 min or 2 h", ["1 h"])
    .action(async (id: string, options: TimedOptions) => {
      const { askForTime } = await import("./load-request-run.ts");
      await askForTime(id, request, options);
    });
}

function command(name: string, about: string, help: string): Command {
  return new Command(name)
    .description(about)
    .argument("<load>", "id of the load")
    .requiredOption("--token-file <file>", "file with the service's token (web.tokenFile)")
    .option("--url <url>", "where the service's web server listens", "http://127.0.0.1:8470")
    .option("--json", "print the load as the service gave it")
    .addHelpText("after", help);
}
