/** Reads a settings file and says all that is wrong with it at once. */
import { readFileSync } from "node:fs";
import { UserError } from "../service/errors.ts";
import { crossChecks } from "./cross-checks.ts";
import { readDocument } from "./document.ts";
import type { DocumentSource } from "./document.ts";
import { readPartially } from "./partial-file.ts";
import { schemaFindings } from "./schema-issues.ts";
import { settingsSchema } from "./schema.ts";
import type { SiteSettings } from "./site-settings.ts";
import { toSettings } from "./to-settings.ts";
import { mapSignals } from "./to-signals.ts";

/** @throws UserError with every problem of the file, in its order. */
export function loadSite(from: {
  readonly path: string;
  readonly overrides?: readonly string[];
}): SiteSettings {
  const text = readSettingsText(from.path);
  return parseSite({ text, fileName: from.path, overrides: from.overrides ?? [] });
}

/** @throws UserError with every problem of the text, in its order. */
export function parseSite(source: DocumentSource): SiteSettings {
  const document = readDocument(source);
  const partial = readPartially(document.raw);
  const mapped = mapSignals(partial);
  const findings = [
    ...schemaFindings(document.raw),
    ...mapped.findings,
    ...crossChecks(partial, mapped.signals),
  ];
  const errors = findings.filter((finding) => finding.severity === "error");
  const problems = document.problemsOf(errors);
  if (problems.length > 0) throw new UserError(problems);
  return toSettings({
    file: settingsSchema.parse(document.raw),
    fileName: source.fileName,
    signals: mapped.signals.map(({ signal }) => signal),
    warnings: findings
      .filter((finding) => finding.severity === "warning")
      .map((finding) => document.lineOf(finding)),
  });
}

const FILE_ANSWERS: Readonly<Record<string, string>> = {
  ENOENT: "no such file",
  EISDIR: "a folder",
  EACCES: "a file that may not be read",
  ENOTDIR: "a path through something that is no folder",
};

function readSettingsText(path: string): string {
  const where = path;
  const expected = "a settings file in YAML (UTF-8)";
  let bytes: Uint8Array;
  try {
    bytes = readFileSync(path);
  } catch (error) {
    const code = error instanceof Error && "code" in error ? String(error.code) : "";
    const found = FILE_ANSWERS[code];
    if (found === undefined) throw error;
    throw new UserError([{ code: "file-unreadable", where, found, expected }]);
  }
  try {
    return new TextDecoder("utf-8", { fatal: true }).decode(bytes);
  } catch {
    throw new UserError([{ code: "not-text", where, found: "not UTF-8", expected }]);
  }
}
