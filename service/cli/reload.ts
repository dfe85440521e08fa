/** `bywash reload`: a service that runs reads its settings file again. */
import { Command } from "commander";
import { UserError } from "../errors.ts";
import { serviceAddress } from "./service-address.ts";

interface ReloadOptions {
  readonly url: string;
  readonly tokenFile: string;
}

const ANSWER_WITHIN_MS = 10_000;

export function reloadCommand(): Command {
  return new Command("reload")
    .description("have the running service read its settings file again")
    .requiredOption("--token-file <file>", "file with the service's token (web.tokenFile)")
    .option("--url <url>", "where the service's web server listens", "http://127.0.0.1:8470")
    .addHelpText(
      "after",
      "\nExample:\n  bywash reload --token-file malga.token\n\n" +
        "With a mistake in the file the service runs on with the settings it had, and\n" +
        "this command ends with 2. Loads that run stay on unless their own command,\n" +
        "stages or panel changed. `kill -HUP` does the same; its answer is in the log.",
    )
    .action(async (options: ReloadOptions) => {
      const { readToken } = await import("../web/auth.ts");
      const { status, body } = await post(options, await readToken(options.tokenFile));
      if (status !== 200) throw refusal(status, body, options);
      for (const warning of texts(body["warnings"])) process.stdout.write(`${warning}\n`);
      for (const section of texts(body["needsRestart"])) {
        process.stdout.write(`${section}: changed, but counts only from the next start on\n`);
      }
      process.stdout.write("the new settings are in force\n");
    });
}

interface Answer {
  readonly status: number;
  readonly body: Readonly<Record<string, unknown>>;
}

async function post({ url }: ReloadOptions, token: string): Promise<Answer> {
  const address = serviceAddress("/api/settings/reload", url);
  let response: Response;
  try {
    response = await fetch(address, {
      method: "POST",
      headers: { authorization: `Bearer ${token}` },
      signal: AbortSignal.timeout(ANSWER_WITHIN_MS),
    });
  } catch {
    throw new Error(`no service answers at ${address.origin}: is \`bywash serve\` running?`);
  }
  const body: unknown = await response.json().catch(() => ({}));
  return { status: response.status, body: isRecord(body) ? body : {} };
}

function refusal(status: number, body: Answer["body"], options: ReloadOptions): Error {
  const { tokenFile, url } = options;
  if (status === 401 || status === 403) {
    return new UserError([
      { code: "token-refused", where: tokenFile, expected: `the token of the service at ${url}` },
    ]);
  }
  if (status === 422) {
    process.stderr.write(`${texts(body["reasons"]).join("\n\n")}\n\n`);
    return new UserError([
      {
        code: "settings-refused",
        where: url,
        expected: "a settings file without mistakes; the service runs on as it was",
      },
    ]);
  }
  const title = typeof body["title"] === "string" ? `: ${body["title"]}` : "";
  return new Error(`the service at ${url} answered ${String(status)}${title}`);
}

function texts(value: unknown): readonly string[] {
  return Array.isArray(value) ? value.filter((item) => typeof item === "string") : [];
}

function isRecord(value: unknown): value is Readonly<Record<string, unknown>> {
  return typeof value === "object" && value !== null;
}
