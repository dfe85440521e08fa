/** `bywash run`, `bywash hold` and `bywash release`: a person asks something of a load. */
import { Command } from "commander";
import { z } from "zod";
import { parseQuantity } from "../../config/quantities.ts";
import { UserError } from "../errors.ts";
import { hangingLines } from "../hanging-text.ts";
import { serviceAddress } from "./service-address.ts";

interface RequestOptions {
  readonly url: string;
  readonly tokenFile: string;
  readonly for?: string;
  readonly json?: true;
}

const ANSWER_WITHIN_MS = 10_000;
const FOR_MAX_MS = 12 * 3_600_000;
const MS_PER_S = 1000;

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
  ).action((id: string, options: RequestOptions) => ask(id, { request: "release" }, options));
}

function timedCommand(request: "run" | "hold", about: string, help: string): Command {
  return command(request, about, help)
    .option("--for <time...>", "for how long, such as 30 min or 2 h", ["1 h"])
    .action((id: string, options: Omit<RequestOptions, "for"> & { readonly for: string[] }) =>
      ask(id, { request, forS: secondsOf(options.for.join(" ")) }, { ...options, for: "" }),
    );
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

/** @throws UserError unless it is a time within the longest. */
function secondsOf(written: string): number {
  const parsed = parseQuantity(written, "duration");
  if (parsed.ok && parsed.value >= MS_PER_S && parsed.value <= FOR_MAX_MS) {
    return parsed.value / MS_PER_S;
  }
  throw new UserError([
    { code: "flag-value", where: "--for", found: written, expected: "a time from 1 s to 12 h" },
  ]);
}

const loadSchema = z.looseObject({
  sentence: z.string(),
  stage: z.number(),
  asked: z.looseObject({ wants: z.enum(["run", "hold"]), until: z.string() }).nullable(),
});
const answerSchema = z.object({ load: loadSchema });

async function ask(id: string, body: object, options: RequestOptions): Promise<void> {
  const { readToken } = await import("../web/auth.ts");
  const token = await readToken(options.tokenFile);
  const address = serviceAddress(`/api/loads/${encodeURIComponent(id)}/request`, options.url);
  const { status, answer } = await post(address, token, body);
  if (status !== 200) throw refusal(id, { status, answer, options });
  const { load } = answerSchema.parse(answer);
  process.stdout.write(`${options.json ? JSON.stringify(load, null, 2) : told(id, load)}\n`);
}

function told(id: string, { sentence, stage, asked }: z.output<typeof loadSchema>): string {
  const waits = asked?.wants === "run" && stage === 0;
  const end = waits ? `; starts if that ends before ${asked.until}` : "";
  return hangingLines("", `${id}: ${sentence}${end}`, 2).join("\n");
}

async function post(
  address: URL,
  token: string,
  body: object,
): Promise<{ readonly status: number; readonly answer: unknown }> {
  let response: Response;
  try {
    response = await fetch(address, {
      method: "POST",
      headers: { authorization: `Bearer ${token}`, "content-type": "application/json" },
      body: JSON.stringify(body),
      signal: AbortSignal.timeout(ANSWER_WITHIN_MS),
    });
  } catch {
    throw new Error(`no service answers at ${address.origin}: is \`bywash serve\` running?`);
  }
  const answer: unknown = await response.json().catch(() => null);
  return { status: response.status, answer };
}

const problemSchema = z.object({ title: z.string(), detail: z.string().optional() });

function refusal(
  id: string,
  given: { readonly status: number; readonly answer: unknown; readonly options: RequestOptions },
): Error {
  const { status, answer, options } = given;
  if (status === 401 || status === 403) {
    const expected = `the token of the service at ${options.url}`;
    return new UserError([{ code: "token-refused", where: options.tokenFile, expected }]);
  }
  if (status === 404) {
    return new UserError([
      { code: "unknown-id", where: id, expected: "the id of a load of the site" },
    ]);
  }
  const problem = problemSchema.safeParse(answer);
  if (!problem.success) return new Error(`the service at ${options.url} answered ${status}`);
  const { title, detail } = problem.data;
  return new Error(detail === undefined ? title : `${id}: ${detail}`);
}
