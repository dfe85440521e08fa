/** What `bywash run`, `hold` and `release` ask of a running service, and what it answers. */
import { z } from "zod";
import { parseQuantity } from "../../config/quantities.ts";
import { UserError } from "../errors.ts";
import { hangingLines } from "../hanging-text.ts";
import { readToken } from "../web/auth.ts";
import { serviceAddress } from "./service-address.ts";

export interface RequestOptions {
  readonly url: string;
  readonly tokenFile: string;
  readonly json?: true;
}

export interface TimedOptions extends RequestOptions {
  readonly for: readonly string[];
}

const ANSWER_WITHIN_MS = 10_000;
const FOR_MAX_MS = 12 * 3_600_000;
const MS_PER_S = 1000;

/** @throws UserError unless the time is one that a load may be asked for. */
export function askForTime(
  id: string,
  request: "run" | "hold",
  options: TimedOptions,
): Promise<void> {
  return ask(id, { request, forS: secondsOf(options.for.join(" ")) }, options);
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
  code: z.string(),
  stage: z.number(),
  asked: z.looseObject({ wants: z.enum(["run", "hold"]), until: z.string() }).nullable(),
});
const answerSchema = z.object({ load: loadSchema });

export async function ask(id: string, body: object, options: RequestOptions): Promise<void> {
  const token = await readToken(options.tokenFile);
  const address = serviceAddress(`/api/loads/${encodeURIComponent(id)}/request`, options.url);
  const { status, answer } = await post(address, token, body);
  if (status !== 200) throw refusal(id, { status, answer, options });
  const { load } = answerSchema.parse(answer);
  process.stdout.write(`${options.json ? JSON.stringify(load, null, 2) : told(id, load)}\n`);
}

function told(id: string, load: z.output<typeof loadSchema>): string {
  return hangingLines("", `${id}: ${load.sentence}${besides(load)}`, 2).join("\n");
}

/** What was asked, where something else is the reason why the load is as it is. */
function besides({ code, stage, asked }: z.output<typeof loadSchema>): string {
  if (asked?.wants === "run" && stage === 0) {
    return `; starts if that ends before ${asked.until}`;
  }
  const isOtherwise = asked?.wants === "hold" && code !== "held-off";
  return isOtherwise ? `; held off until ${asked.until} besides` : "";
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
