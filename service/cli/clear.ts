/** `bywash clear`: a person has looked at a latched load or panel, and takes the latch away. */
import { Command } from "commander";
import { UserError } from "../errors.ts";
import { serviceAddress } from "./service-address.ts";

interface ClearOptions {
  readonly url: string;
  readonly tokenFile: string;
}

const ANSWER_WITHIN_MS = 5_000;

export function clearCommand(): Command {
  return new Command("clear")
    .description("clear the latch of a load or panel, after a person has looked at it")
    .argument("<id>", "id of the load or panel")
    .requiredOption("--token-file <file>", "file with the service's token (web.tokenFile)")
    .option("--url <url>", "where the service's web server listens", "http://127.0.0.1:8470")
    .addHelpText(
      "after",
      "\nExample:\n  bywash clear water-heater --token-file malga.token\n\n" +
        "A latch says that a contact may be welded or a device dead: have a licensed\n" +
        "electrician look before clearing it.",
    )
    .action(async (id: string, options: ClearOptions) => {
      const { readToken } = await import("../web/auth.ts");
      const token = await readToken(options.tokenFile);
      for (const kind of ["loads", "panels"] as const) {
        const path = `/api/${kind}/${encodeURIComponent(id)}/clear`;
        const address = serviceAddress(path, options.url);
        const status = await post(address, token);
        if (status === 404) continue;
        explainStatus(status, options);
        process.stdout.write(`${id}: the latch is cleared at the next tick\n`);
        return;
      }
      throw new UserError([
        { code: "unknown-id", where: id, expected: "the id of a load or panel of the site" },
      ]);
    });
}

async function post(address: URL, token: string): Promise<number> {
  try {
    const response = await fetch(address, {
      method: "POST",
      headers: { authorization: `Bearer ${token}` },
      signal: AbortSignal.timeout(ANSWER_WITHIN_MS),
    });
    return response.status;
  } catch {
    throw new Error(`no service answers at ${address.origin}: is \`bywash serve\` running?`);
  }
}

/** @throws UserError for a token that is not this service's. */
function explainStatus(status: number, { tokenFile, url }: ClearOptions): void {
  if (status === 202) return;
  if (status === 401 || status === 403) {
    throw new UserError([
      { code: "token-refused", where: tokenFile, expected: `the token of the service at ${url}` },
    ]);
  }
  throw new Error(`the service at ${url} answered ${status}`);
}
