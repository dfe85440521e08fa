/**
 * The settings file for people on a page: every key with its meaning; and where the settings allow
 * it, changes that are checked first, shown line by line, written as a whole with the file of
 * before beside it, and taken back by one press.
 */
import { createHash } from "node:crypto";
import {
  copyFileSync,
  existsSync,
  readFileSync,
  renameSync,
  statSync,
  writeFileSync,
} from "node:fs";
import { basename } from "node:path";
import { changedText } from "../config/changed-text.ts";
import type { KeyChange } from "../config/changed-text.ts";
import { explainedSettings } from "../config/explained-settings.ts";
import type { ExplainedKey } from "../config/explained-settings.ts";
import { lineDiff } from "../config/line-diff.ts";
import type { DiffLine } from "../config/line-diff.ts";
import { parseSite } from "../config/load.ts";
import { formatProblem, UserError } from "./errors.ts";
import { settle } from "./history/replace-file.ts";
import type { Log } from "./log.ts";
import type { ReloadAnswer } from "./reload.ts";

export interface SettingsView {
  readonly formatVersion: 1;
  readonly file: string;
  /** `web.editing` allows changes. */
  readonly isEditable: boolean;
  readonly canUndo: boolean;
  /** Of the text; a change names the one that it was made on. */
  readonly fingerprint: string;
  readonly keys: readonly ExplainedKey[];
}

export interface ProposedChange {
  readonly fingerprint: string;
  readonly changes: readonly KeyChange[];
}

export interface CheckView {
  readonly diff: readonly DiffLine[];
  /** Empty: they may be applied. */
  readonly problems: readonly string[];
  readonly warnings: readonly string[];
}

export type ApplyAnswer =
  | {
      readonly kind: "applied";
      readonly warnings: readonly string[];
      readonly needsRestart: readonly string[];
    }
  | { readonly kind: "refused"; readonly problems: readonly string[] }
  /** Somebody has changed the file meanwhile; nothing to take back; or changes are not allowed. */
  | { readonly kind: "outdated" | "nothing-to-undo" | "not-editable" };

export interface SettingsDesk {
  /** @throws Error of the file system */
  readonly view: () => SettingsView;
  readonly check: (proposed: ProposedChange) => CheckView | "outdated";
  readonly apply: (proposed: ProposedChange) => ApplyAnswer;
  readonly undo: () => ApplyAnswer;
}

/** What decides who may come in, and where files are, is changed by hand at the machine alone. */
const BY_HAND = /^(version|web|broker|history)\b/u;

export interface SettingsDeskOptions {
  readonly path: string;
  readonly overrides: readonly string[];
  readonly isEditable: () => boolean;
  readonly reload: () => ReloadAnswer;
  readonly log: Log;
}

export function createSettingsDesk(options: SettingsDeskOptions): SettingsDesk {
  const { path, isEditable, log } = options;
  const read = (): string => readFileSync(path, "utf8");
  const before = `${path}.before`;
  return {
    view() {
      const text = read();
      return {
        formatVersion: 1,
        file: basename(path),
        isEditable: isEditable(),
        canUndo: existsSync(before),
        fingerprint: fingerprintOf(text),
        keys: explainedSettings(text),
      };
    },
    check(proposed) {
      const text = read();
      if (proposed.fingerprint !== fingerprintOf(text)) return "outdated";
      return checked(text, proposed.changes, options);
    },
    apply(proposed) {
      if (!isEditable()) return { kind: "not-editable" };
      const text = read();
      if (proposed.fingerprint !== fingerprintOf(text)) return { kind: "outdated" };
      const { problems } = checked(text, proposed.changes, options);
      if (problems.length > 0) return { kind: "refused", problems };
      copyFileSync(path, before);
      write(path, changedText(text, proposed.changes));
      log.info({ keys: proposed.changes.map(({ key }) => key) }, "settings changed on a page");
      return afterReload(options, () => renameSync(before, path));
    },
    undo() {
      if (!isEditable()) return { kind: "not-editable" };
      if (!existsSync(before)) return { kind: "nothing-to-undo" };
      const [text, earlier] = [read(), readFileSync(before, "utf8")];
      write(path, earlier);
      write(before, text);
      log.info({}, "the last change of the settings was taken back on a page");
      return afterReload(options, () => {
        write(path, text);
        write(before, earlier);
      });
    },
  };
}

/** A file that the service refuses does not stay: it would keep the next start from coming up. */
function afterReload({ reload }: SettingsDeskOptions, takeBack: () => void): ApplyAnswer {
  const answer = reload();
  if (answer.isApplied) {
    const { warnings, needsRestart } = answer;
    return { kind: "applied", warnings, needsRestart };
  }
  takeBack();
  return { kind: "refused", problems: answer.problems.map(formatProblem) };
}

function checked(
  text: string,
  changes: readonly KeyChange[],
  { path, overrides }: SettingsDeskOptions,
): CheckView {
  try {
    for (const { key } of changes) {
      if (!BY_HAND.test(key)) continue;
      const expected = "a key that may be changed on a page; this one at the machine alone";
      throw new UserError([{ code: "by-hand-only", where: basename(path), key, expected }]);
    }
    const after = changedText(text, changes);
    const diff = lineDiff(text, after);
    try {
      const { warnings } = parseSite({ text: after, fileName: basename(path), overrides });
      return { diff, problems: [], warnings };
    } catch (error) {
      return { diff, problems: problemsIn(error), warnings: [] };
    }
  } catch (error) {
    return { diff: [], problems: problemsIn(error), warnings: [] };
  }
}

function problemsIn(error: unknown): readonly string[] {
  if (!(error instanceof UserError)) throw error;
  return error.problems.map(formatProblem);
}

function fingerprintOf(text: string): string {
  return createHash("sha256").update(text, "utf8").digest("base64url");
}

/** As a whole or not at all, and for whom it was readable before. */
function write(path: string, text: string): void {
  const unfinished = `${path}.unfinished`;
  writeFileSync(unfinished, text, { mode: statSync(path).mode & 0o777 });
  settle(unfinished, path);
}
