/** `bywash alerts --test`: whether an alert of the running service reaches anybody. */
import { Command } from "commander";
import { UserError } from "../errors.ts";
import { serviceAddress } from "./service-address.ts";

interface AlertsOptions {
  readonly test: boolean;
  readonly url: string;
  readonly tokenFile: string;
  readonly json: boolean;
}

const ANSWER_WITHIN_MS = 10_000;

export function alertsCommand(): Command {
  return new Command("alerts")
    .description("try whether alerts reach a person")
    .requiredOption("--test", "have the running service send one alert that is marked as a test")
    .requiredOption("--token-file <file>", "file with the service's token (web.tokenFile)")
    .option("--url <url>", "where the service's web server listens", "http://127.0.0.1:8470")
    .option("--json", "print the answer as one JSON object", false)
    .addHelpText(
      "after",
      "\nExample:\n  bywash alerts --test --token-file malga.token\n\n" +
        "It goes the way of every alert, to bywash/<site>/alert on the broker, with\n" +
        '"isTest": true, and nothing follows it. It ends with 0 once the broker has it,\n' +
        "else with 1. Who reads it there only the person knows whose phone rings.",
    )
    .action(async (options: AlertsOptions) => {
      const answer = await ask(options);
      const { isDelivered, tellAlertTest } = await import("./told-alert-test.ts");
      const text = options.json ? JSON.stringify(answer, null, 2) : tellAlertTest(answer);
      process.stdout.write(`${text}\n`);
      if (!isDelivered(answer)) process.exitCode = 1;
    });
}

async function ask({ url, tokenFile }: AlertsOptions): Promise<unknown> {
  const { readToken } = await import("../web/auth.ts");
  const headers = { authorization: `Bearer ${await readToken(tokenFile)}` };
  const address = serviceAddress("/api/alerts/test", url);
  let response: Response;
  try {
    const signal = AbortSignal.timeout(ANSWER_WITHIN_MS);
    response = await fetch(address, { method: "POST", headers, signal });
  } catch {
    throw new Error(`no service answers at ${address.origin}: is \`bywash serve\` running?`);
  }
  if (response.status === 401 || response.status === 403) {
    throw new UserError([
      { code: "token-refused", where: tokenFile, expected: `the token of the service at ${url}` },
    ]);
  }
  if (!response.ok) throw new Error(`the service at ${url} answered ${String(response.status)}`);
  return response.json();
}
