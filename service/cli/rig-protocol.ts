/**
 * How a rig and a service in another process keep in step, over the rig's broker.
 *
 * The rig says `begin` until the service is `ready`; then, step by step, the shed's telemetry and a
 * `turn`, which the service answers by `turned` when it has decided; at last `end`, which is its
 * last will too, and the service has `left` when everything is off. Nothing is retained: what a rig
 * of yesterday said moves nobody's time.
 */
import { z } from "zod";
import { VERDICT_CODES } from "../control/verdict-codes.ts";
import type { VerdictCode } from "../control/verdict-codes.ts";

const run = z.string().min(1);
const elapsedMs = z.number().min(0);
const count = z.int().min(0);
/** Local time less UTC from here on; null: the site's own zone. [ms] */
const utcOffsetMs = z.number().nullable();
const verdictCode = z.custom<VerdictCode>((code) => Object.hasOwn(VERDICT_CODES, String(code)));

const beginSchema = z.object({
  kind: z.literal("begin"),
  run,
  /** [ms since 1970-01-01T00:00:00Z] */
  startWallMs: z.number(),
  /** A step of the rig; the service has to decide as often. */
  tickMs: z.number().positive(),
  /** Whose sun and clock the days follow. */
  latitudeDeg: z.number(),
  longitudeDeg: z.number(),
  utcOffsetMs,
});
const fromRigSchema = z.discriminatedUnion("kind", [
  beginSchema,
  z.object({
    kind: z.literal("turn"),
    run,
    elapsedMs,
    /** Telemetry messages since the beginning: so many the service must have received, no more. */
    published: count,
    utcOffsetMs,
  }),
  z.object({ kind: z.literal("end"), run }),
]);
const fromServiceSchema = z.discriminatedUnion("kind", [
  z.object({ kind: z.literal("ready"), run }),
  z.object({ kind: z.literal("refused"), run, reason: z.string() }),
  z.object({
    kind: z.literal("turned"),
    run,
    elapsedMs,
    /** Commands sent since the beginning. */
    commands: count,
    decisions: count,
    /** What the rig's books want to know of the last decision. */
    loadStages: z.array(z.number()),
    ruleCurveFraction: z.number(),
    loadCodes: z.array(verdictCode),
  }),
  z.object({ kind: z.literal("left"), run }),
]);

export type RigBegin = z.output<typeof beginSchema>;
export type FromRig = z.output<typeof fromRigSchema>;
export type FromService = z.output<typeof fromServiceSchema>;

export function rigTopic(siteId: string): string {
  return `bywash/${siteId}/rig/step`;
}

export function answerTopic(siteId: string): string {
  return `bywash/${siteId}/rig/answer`;
}

/** @returns null for what no rig says. */
export function readFromRig(payload: Uint8Array): FromRig | null {
  return read(payload, fromRigSchema);
}

/** @returns null for what no service says. */
export function readFromService(payload: Uint8Array): FromService | null {
  return read(payload, fromServiceSchema);
}

function read<T>(payload: Uint8Array, schema: z.ZodType<T>): T | null {
  try {
    return schema.safeParse(JSON.parse(new TextDecoder().decode(payload))).data ?? null;
  } catch {
    return null;
  }
}
