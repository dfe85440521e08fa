/**
 * `bywash check --live --switch`: asks the running service to test a load's switch while somebody
 * stands by. Nothing is switched from here: the service decides, under all that it always observes.
 */
import { createInterface } from "node:readline/promises";
import { z } from "zod";
import type { SiteSettings } from "../../config/site-settings.ts";
import { systemClock } from "../clock.ts";
import { UserError } from "../errors.ts";
import { hangingLines } from "../hanging-text.ts";
import { readToken } from "../web/auth.ts";
import { watts } from "./quantity-text.ts";
import { serviceAddress } from "./service-address.ts";

export interface SwitchOptions {
  /** Ids of loads; true: each of them, asked one by one. */
  readonly switch: true | readonly string[];
  /** Said beforehand, for all of them. */
  readonly somebodyStandsBy: boolean;
  /** null: where the settings say. */
  readonly url: string | null;
  readonly tokenFile: string | null;
}

const lookSchema = z.object({
  by: z.enum(["report", "meter", "inverter"]),
  result: z.enum(["pending", "seen", "not-seen", "unclear", "not-measured"]),
  afterS: z.number().nullable(),
  stepW: z.number().nullable(),
});
const testSchema = z.object({
  id: z.string(),
  label: z.string(),
  phase: z.enum(["starting", "on", "off", "over"]),
  on: z.array(lookSchema),
  off: z.array(lookSchema),
  isProven: z.boolean(),
  outcome: z.string().nullable(),
});
const answerSchema = z.object({ switchTest: testSchema.nullable() });
const problemSchema = z.looseObject({ title: z.string(), detail: z.string().optional() });

type SwitchTest = z.output<typeof testSchema>;

export interface SwitchResult {
  readonly id: string;
  readonly isProven: boolean;
  /** In words: what was proven and what not, or why it was not tested. */
  readonly outcome: string;
  readonly on: readonly z.output<typeof lookSchema>[];
  readonly off: readonly z.output<typeof lookSchema>[];
}

const ANSWER_WITHIN_MS = 10_000;
const LOOK_EVERY_MS = 500;
/** A start, its time on and off, and a slow device besides; a service that hangs ends it. [ms] */
const OVER_WITHIN_MS = 300_000;

/**
 * Before anything is listened to or switched.
 *
 * @returns The loads to be tested, in the order in which they were asked for.
 * @throws UserError for ids that the site lacks, and where nobody can say that he stands by.
 */
export function loadsToSwitch(site: SiteSettings, options: SwitchOptions): readonly string[] {
  const ids = site.control.loads.map(({ id }) => id);
  const wanted = options.switch === true ? ids : options.switch;
  for (const id of wanted) {
    if (ids.includes(id)) continue;
    const expected = `one of ${ids.join(", ")}`;
    throw new UserError([{ code: "unknown-id", where: "--switch", found: id, expected }]);
  }
  const isNamed = options.switch !== true;
  if (process.stdin.isTTY || (isNamed && options.somebodyStandsBy)) return wanted;
  const expected = isNamed
    ? "a terminal to ask on, or --somebody-stands-by, said by somebody who does"
    : "the id of a load after --switch: only on a terminal each of them is asked for";
  throw new UserError([{ code: "flag-missing", where: "--switch", expected }]);
}

export async function testSwitches(
  site: SiteSettings,
  ids: readonly string[],
  options: SwitchOptions,
): Promise<readonly SwitchResult[]> {
  const token = await readToken(options.tokenFile ?? site.web.tokenFile);
  const url = options.url ?? urlOf(site);
  const results: SwitchResult[] = [];
  for (const id of ids) {
    const label = site.control.loads.find((load) => load.id === id)?.label ?? id;
    // Nobody stands by all loads of a site at once.
    const isSaid = options.switch !== true && options.somebodyStandsBy;
    const isAgreed = isSaid || (await isConfirmed(label));
    results.push(
      isAgreed ? await testSwitch(id, { url, token, tokenFile: options.tokenFile }) : skipped(id),
    );
  }
  return results;
}

function skipped(id: string): SwitchResult {
  const outcome = "Not tested: nobody said that he stands by.";
  return { id, isProven: false, outcome, on: [], off: [] };
}

/** A host that stands for all addresses is no address to ask. */
function urlOf({ web: { host, port } }: SiteSettings): string {
  const isAny = host === "0.0.0.0" || host === "::";
  const name = isAny ? "127.0.0.1" : host.includes(":") ? `[${host}]` : host;
  return `http://${name}:${String(port)}`;
}

async function isConfirmed(label: string): Promise<boolean> {
  say(
    `${label}: it is switched on for about 20 s and off again, by the service, under all its ` +
      "interlocks and limits. Somebody must stand by it, see that nobody works on it and that it " +
      "may run (water in the pump, the tank full), and be able to switch it off at its breaker. " +
      "Wiring, hot water and motors are for a licensed electrician under local codes.",
  );
  const ask = createInterface({ input: process.stdin, output: process.stderr });
  try {
    const left = new Promise<string>((resolve) => void ask.once("close", () => resolve("")));
    const said = ask.question("Does somebody stand by? Type yes, else it is left: ");
    return (await Promise.race([said, left])) === "yes";
  } finally {
    ask.close();
  }
}

function say(text: string): void {
  process.stderr.write(`${hangingLines("", text, 2).join("\n")}\n`);
}

interface Desk {
  readonly url: string;
  readonly token: string;
  readonly tokenFile: string | null;
}

async function testSwitch(id: string, desk: Desk): Promise<SwitchResult> {
  const path = `/api/loads/${encodeURIComponent(id)}/test`;
  const { status, answer } = await ask(path, desk, { somebodyStandsBy: true });
  if (status === 401 || status === 403) {
    const expected = `the token of the service at ${desk.url}`;
    const where = desk.tokenFile ?? "web.tokenFile";
    throw new UserError([{ code: "token-refused", where, expected }]);
  }
  if (status !== 200) {
    const outcome = `Not tested: ${refusalText(status, answer)}.`;
    return { id, isProven: false, outcome, on: [], off: [] };
  }
  const begun = answerSchema.parse(answer).switchTest;
  const over = await untilOver(id, begun, desk);
  const outcome =
    over?.outcome ??
    "Not known: the service no longer tells of the test. Look at the load: is it off?";
  return {
    id,
    isProven: over?.isProven === true,
    outcome,
    on: over?.on ?? [],
    off: over?.off ?? [],
  };
}

/** @returns null if the service has begun another one, or does not come to an end. */
async function untilOver(
  id: string,
  begun: SwitchTest | null,
  desk: Desk,
): Promise<SwitchTest | null> {
  const endMs = systemClock.monotonicMs() + OVER_WITHIN_MS;
  let test = begun;
  let said = "";
  while (test !== null && test.id === id && systemClock.monotonicMs() < endMs) {
    if (test.phase === "over") return test;
    if (test.phase !== said) say(`${test.label}: ${PHASES[test.phase]}`);
    said = test.phase;
    await new Promise<void>((resolve) => void systemClock.schedule(LOOK_EVERY_MS, resolve));
    test = answerSchema.parse((await ask("/api/state", desk)).answer).switchTest;
  }
  return null;
}

const PHASES = {
  starting: "it is being started",
  on: "it is on; it goes off by itself",
  off: "it has been told to go off",
} as const;

function refusalText(status: number, answer: unknown): string {
  const problem = problemSchema.safeParse(answer);
  if (!problem.success) return `the service answered ${String(status)}`;
  return problem.data.detail ?? problem.data.title;
}

async function ask(
  path: string,
  { url, token }: Desk,
  body?: object,
): Promise<{ readonly status: number; readonly answer: unknown }> {
  const address = serviceAddress(path, url);
  const headers = { authorization: `Bearer ${token}`, "content-type": "application/json" };
  const post = body === undefined ? {} : { method: "POST", body: JSON.stringify(body) };
  let response: Response;
  try {
    const signal = AbortSignal.timeout(ANSWER_WITHIN_MS);
    response = await fetch(address, { ...post, headers, signal });
  } catch {
    throw new Error(
      `no service answers at ${address.origin}, and nothing is switched without one: start ` +
        "`bywash serve` with these settings, then ask again",
    );
  }
  return { status: response.status, answer: await response.json().catch(() => null) };
}

const BY = { report: "its report", meter: "its meter", inverter: "the inverter" } as const;
const RESULTS = {
  pending: "not yet",
  "not-seen": "not seen",
  unclear: "unclear: something else was switched",
  "not-measured": "not measured",
} as const;

export function tellSwitch({ id, outcome, on, off }: SwitchResult): string {
  const looks = on.map((look) => {
    const after = off.find(({ by }) => by === look.by);
    return `  ${BY[look.by]}: on ${lookText(look)}, off ${lookText(after)}`;
  });
  return [...hangingLines("", `${id}: ${outcome}`, 2), ...looks].join("\n");
}

function lookText(look: SwitchTest["on"][number] | undefined): string {
  if (look === undefined) return "not asked";
  const { result, afterS, stepW } = look;
  if (result !== "seen") return RESULTS[result];
  const power = stepW === null ? "" : ` (${watts(Math.round(stepW))})`;
  return `seen after ${String(afterS ?? 0)} s${power}`;
}
