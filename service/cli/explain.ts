/** `bywash explain`: why each load is as it is, asked of the running service. */
import { Command } from "commander";
import { serviceAddress } from "./service-address.ts";

interface ExplainOptions {
  readonly url: string;
  readonly json: boolean;
}

const ANSWER_WITHIN_MS = 5_000;

export function explainCommand(): Command {
  return new Command("explain")
    .description("ask the running service why each load is as it is")
    .argument("[load]", "id of one load or panel; without it, all of them")
    .option("--url <url>", "where the service's web server listens", "http://127.0.0.1:8470")
    .option("--json", "print the answer as one JSON object", false)
    .addHelpText("after", "\nExample:\n  bywash explain water-heater")
    .action(async (id: string | undefined, options: ExplainOptions) => {
      const answer = await ask(options.url);
      const { selectState, tellState } = await import("./told-state.ts");
      const text = options.json
        ? JSON.stringify(selectState(answer, id), null, 2)
        : tellState(answer, id);
      process.stdout.write(`${text}\n`);
    });
}

async function ask(url: string): Promise<unknown> {
  const address = serviceAddress("/api/state", url);
  let response: Response;
  try {
    response = await fetch(address, {
      signal: AbortSignal.timeout(ANSWER_WITHIN_MS),
    });
  } catch {
    throw new Error(`no service answers at ${url}: is \`bywash serve\` running?`);
  }
  if (!response.ok) throw new Error(`the service at ${url} answered ${response.status}`);
  return response.json();
}
