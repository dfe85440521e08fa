/** Reads a mapping file, or one of those that come with Bywash, and says all that is wrong. */
import { readFileSync, readdirSync } from "node:fs";
import { fileURLToPath } from "node:url";
import type { z } from "zod";
import { readDocument } from "../../config/document.ts";
import { errorAt } from "../../config/findings.ts";
import type { Finding, SettingsPath } from "../../config/findings.ts";
import { valueAt } from "../../config/schema-issues.ts";
import { nearestWord } from "../../config/suggestions.ts";
import { UserError } from "../../service/errors.ts";
import { FIXED_COLUMNS } from "../days/day-file.ts";
import { isDayColumn } from "../days/day-header.ts";
import { unreadable } from "../days/text-blocks.ts";
import { isTimeForm } from "./time-form.ts";
import { MAPPING_KEYS, mappingSchema } from "./mapping.ts";
import type { Mapping } from "./mapping.ts";
import { isUnitFor, unitsFor } from "./units.ts";
import { isZone } from "./zone.ts";

const BUILTIN = "builtin:";
const MAPS = new URL("maps/", import.meta.url);

/** The mappings that come with Bywash, without `builtin:`. */
export function builtinMaps(): readonly string[] {
  return readdirSync(MAPS)
    .filter((name) => name.endsWith(".yaml"))
    .map((name) => name.replace(".yaml", ""))
    .sort();
}

/**
 * @param name - A path, or `builtin:` and the name of a mapping that comes with Bywash.
 * @throws UserError with every problem of the file, in its order.
 */
export function readMapping(name: string, overrides: readonly string[]): Mapping {
  const text = mappingText(name);
  if (!/^\s*[\w"']+\s*:/m.test(text)) {
    const expected = "a mapping file in YAML: version, file, time, columns";
    throw new UserError([{ code: "mapping", where: name, found: "no keys", expected }]);
  }
  const document = readDocument({ text, fileName: name, overrides });
  const result = mappingSchema.safeParse(document.raw);
  const findings = result.success
    ? crossFindings(result.data)
    : result.error.issues.flatMap((issue) => findingsOf(issue, document.raw));
  const problems = document.problemsOf(findings);
  if (problems.length > 0 || !result.success) throw new UserError(problems);
  return result.data;
}

/** The text of a mapping, to be copied and changed. */
export function mappingText(name: string): string {
  return readText(name.startsWith(BUILTIN) ? builtinPath(name) : name, name);
}

function builtinPath(name: string): string {
  const wanted = name.slice(BUILTIN.length);
  const known = builtinMaps();
  if (known.includes(wanted)) return fileURLToPath(new URL(`${wanted}.yaml`, MAPS));
  const near = nearestWord(wanted, known);
  throw new UserError([
    {
      code: "mapping-unknown",
      where: `--map ${name}`,
      expected: `one of ${known.map((one) => BUILTIN + one).join(", ")}`,
      ...(near === undefined ? {} : { suggestion: `did you mean ${BUILTIN}${near}?` }),
    },
  ]);
}

function readText(path: string, name: string): string {
  try {
    return readFileSync(path, "utf8");
  } catch (error) {
    throw unreadable(name, error);
  }
}

type Issue = z.core.$ZodIssue;

function findingsOf(issue: Issue, raw: unknown): readonly Finding[] {
  const path = issue.path.map((segment) => (typeof segment === "symbol" ? "?" : segment));
  if (issue.code === "unrecognized_keys") return issue.keys.map((key) => unknownKey(path, key));
  const isAbsent = valueAt(raw, path) === undefined;
  const found = isAbsent ? { found: "nothing" } : {};
  const code = isAbsent ? "missing-key" : "mapping-value";
  return [errorAt(path, code, { ...found, expected: issue.message })];
}

function unknownKey(path: SettingsPath, key: string): Finding {
  const isColumn = path[0] === "columns" && path.length === 2;
  const known = MAPPING_KEYS.get(isColumn ? "columns.*" : path.join(".")) ?? [];
  const near = nearestWord(key, known);
  return errorAt([...path, key], "unknown-key", {
    expected: known.length === 0 ? "a key that is known here" : `one of ${known.join(", ")}`,
    ...(near === undefined ? {} : { suggestion: `did you mean ${near}?` }),
    isAboutKey: true,
  });
}

/** What a single value does not show. */
function crossFindings(mapping: Mapping): readonly Finding[] {
  const { time } = mapping;
  const findings: Finding[] = Object.keys(mapping.columns).flatMap((name) =>
    columnFindings(mapping, name),
  );
  if (!isTimeForm(time.form)) {
    const expected = "a form such as yyyy-MM-dd HH:mm, rfc3339, seconds or milliseconds";
    findings.push(errorAt(["time", "form"], "mapping-time", { expected }));
  }
  if (typeof time.zone === "string" && !isZone(time.zone)) {
    const expected = "a time zone such as Europe/Rome, UTC, or an offset such as +01:00";
    findings.push(errorAt(["time", "zone"], "mapping-zone", { expected }));
  }
  if (time.clock === "longitude" && mapping.place === undefined) {
    const expected = "a place, since the clock goes by its longitude";
    findings.push(errorAt(["time", "clock"], "mapping-place", { expected }));
  }
  if (Object.keys(mapping.columns).length === 0) {
    findings.push(errorAt(["columns"], "mapping-empty", { expected: "at least one column" }));
  }
  return findings;
}

function columnFindings(mapping: Mapping, name: string): readonly Finding[] {
  const path = ["columns", name];
  if (!isDayColumn(name)) {
    const near = nearestWord(name, FIXED_COLUMNS);
    const expected = "a column of the day file, load_<id>_w or tank_<id>_c";
    const suggestion = near === undefined ? {} : { suggestion: `did you mean ${near}?` };
    return [errorAt(path, "day-column", { expected, ...suggestion, isAboutKey: true })];
  }
  const { unit } = mapping.columns[name] ?? {};
  if (unit === undefined || isUnitFor(name, unit)) return [];
  const expected = `one of ${unitsFor(name).join(", ")}`;
  return [errorAt([...path, "unit"], "mapping-unit", { expected })];
}
