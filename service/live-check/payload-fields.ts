/** The places in a JSON payload at which a value of a signal's kind stands. */
import type { Decoding } from "../../config/site-settings.ts";
import type { JsonResult } from "../telemetry/payload.ts";

export interface FoundField {
  /** JSON pointer (RFC 6901). */
  readonly pointer: string;
  readonly value: number | string | boolean;
}

/** A payload with more is no telemetry of one device. */
const FIELDS_MAX = 200;

export function fieldsFor(result: JsonResult, decoding: Decoding): readonly FoundField[] {
  if ("reason" in result) return [];
  const found: FoundField[] = [];
  collect(result.json, "", found);
  const isNumber = decoding.kind === "number" || decoding.kind === "aboveZero";
  return found.filter(({ value }) => !isNumber || typeof value === "number");
}

function collect(at: unknown, pointer: string, found: FoundField[]): void {
  if (found.length >= FIELDS_MAX) return;
  if (typeof at === "number" || typeof at === "string" || typeof at === "boolean") {
    found.push({ pointer, value: at });
    return;
  }
  if (typeof at !== "object" || at === null) return;
  for (const [name, value] of Object.entries(at)) {
    const step = name.replaceAll("~", "~0").replaceAll("/", "~1");
    collect(value, `${pointer}/${step}`, found);
  }
}
