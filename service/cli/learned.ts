/** `bywash learned`: what the running service has learned; and to have some of it forgotten. */
import { Command } from "commander";
import { UserError } from "../errors.ts";
import { serviceAddress } from "./service-address.ts";

interface LearnedOptions {
  readonly url: string;
  readonly json: boolean;
  readonly reset?: string;
  readonly tokenFile?: string;
}

const ANSWER_WITHIN_MS = 5_000;

export function learnedCommand(): Command {
  return new Command("learned")
    .description("show what the running service has learned of the site")
    .option("--url <url>", "where the service's web server listens", "http://127.0.0.1:8470")
    .option("--json", "print the answer as one JSON object", false)
    .option("--reset <what>", "have it forgotten: base, sky, battery, array.<id> or load.<id>")
    .option("--token-file <file>", "for --reset: the service's token (web.tokenFile)")
    .addHelpText(
      "after",
      "\nExamples:\n  bywash learned\n" +
        "  bywash learned --reset array.roof --token-file malga.token\n\n" +
        "A reset is worth it after a tree was felled, panels were moved, or a freezer\n" +
        "went. Until that is learned anew, the service assumes what it did at first.",
    )
    .action(async (options: LearnedOptions) => {
      if (options.reset !== undefined) {
        await reset(options.reset, options);
        return;
      }
      const response = await ask("/api/learned", options.url, {});
      if (!response.ok) throw unexpected(response.status, options.url);
      const answer: unknown = await response.json();
      const { tellLearned } = await import("./told-learned.ts");
      const text = options.json ? JSON.stringify(answer, null, 2) : tellLearned(answer);
      process.stdout.write(`${text}\n`);
    });
}

async function reset(what: string, { url, tokenFile }: LearnedOptions): Promise<void> {
  if (tokenFile === undefined) {
    throw new UserError([
      {
        code: "flag-missing",
        where: "--token-file",
        expected: "the file with the service's token",
      },
    ]);
  }
  const { readToken } = await import("../web/auth.ts");
  const headers = { authorization: `Bearer ${await readToken(tokenFile)}` };
  const path = `/api/learned/${encodeURIComponent(what)}/reset`;
  const { status } = await ask(path, url, { method: "POST", headers });
  if (status === 401 || status === 403) {
    throw new UserError([
      { code: "token-refused", where: tokenFile, expected: `the token of the service at ${url}` },
    ]);
  }
  if (status === 404) {
    const expected =
      "base, sky, battery (lead-acid), array.<id> or load.<id> with an id of the settings";
    throw new UserError([{ code: "unknown-id", where: "--reset", found: what, expected }]);
  }
  if (status !== 202) throw unexpected(status, url);
  process.stdout.write(`${what}: forgotten at the next tick\n`);
}

async function ask(path: string, url: string, init: RequestInit): Promise<Response> {
  const address = serviceAddress(path, url);
  try {
    return await fetch(address, { ...init, signal: AbortSignal.timeout(ANSWER_WITHIN_MS) });
  } catch {
    throw new Error(`no service answers at ${address.origin}: is \`bywash serve\` running?`);
  }
}

function unexpected(status: number, url: string): Error {
  return new Error(`the service at ${url} answered ${status}`);
}
