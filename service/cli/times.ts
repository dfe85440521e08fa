/** `bywash times`: good times for the appliances that people start themselves. */
import { Command } from "commander";
import { serviceAddress } from "./service-address.ts";

interface TimesOptions {
  readonly url: string;
  readonly json: boolean;
}

const ANSWER_WITHIN_MS = 5_000;

export function timesCommand(): Command {
  return new Command("times")
    .description("good times today and tomorrow for appliances that people start themselves")
    .option("--url <url>", "where the service's web server listens", "http://127.0.0.1:8470")
    .option("--json", "print the answer as one JSON object", false)
    .addHelpText(
      "after",
      "\nExamples:\n  bywash times\n  bywash times --json --url http://shed.local:8470\n\n" +
        "The appliances stand under guidance in the settings file. In doubt there is no\n" +
        "advice, and why is said.",
    )
    .action(async ({ url, json }: TimesOptions) => {
      const answer = await ask(url);
      const { tellTimes } = await import("./told-times.ts");
      const text = json ? JSON.stringify(answer, null, 2) : tellTimes(answer);
      process.stdout.write(`${text}\n`);
    });
}

async function ask(url: string): Promise<unknown> {
  const address = serviceAddress("/api/guidance", url);
  let response: Response;
  try {
    response = await fetch(address, { signal: AbortSignal.timeout(ANSWER_WITHIN_MS) });
  } catch {
    throw new Error(`no service answers at ${url}: is \`bywash serve\` running?`);
  }
  if (!response.ok) throw new Error(`the service at ${url} answered ${response.status}`);
  return response.json();
}
