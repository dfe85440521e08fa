import { z } from "zod";
import type { RouteDocument } from "../route-document.ts";
import { appliedSchema } from "./reload-document.ts";
import { proposedSchema } from "./settings.ts";

const settingsSchema = z.object({
  formatVersion: z.literal(1),
  file: z.string(),
  isEditable: z.boolean().meta({ description: "web.editing allows changes" }),
  canUndo: z.boolean(),
  fingerprint: z.string().meta({ description: "A change names the text that it was made on" }),
  keys: z.array(
    z.object({
      key: z.string(),
      value: z.string().nullable().meta({ description: "As written; null: not given" }),
      meaning: z.string(),
      fallback: z.string().nullable().meta({ description: "What holds where it is not given" }),
      range: z.string().nullable(),
      isAdvanced: z.boolean(),
    }),
  ),
});

const checkSchema = z.object({
  diff: z.array(z.object({ change: z.enum(["same", "removed", "added"]), text: z.string() })),
  problems: z.array(z.string()).meta({ description: "Empty: the changes may be applied" }),
  warnings: z.array(z.string()),
});

const writing = ["token-needed", "cross-site", "csrf-missing", "no-settings-file"] as const;
const body = { name: "ProposedSettings", schema: proposedSchema };
const applied = {
  status: 200,
  description: "The service runs on the new settings",
  mediaType: "application/json",
  schema: { name: "Applied", schema: appliedSchema },
} as const;

export const SETTINGS_DOCUMENTS: readonly RouteDocument[] = [
  {
    method: "GET",
    path: "/api/settings",
    summary: "Every key of the settings file with its meaning; needs the right to write",
    answer: {
      status: 200,
      description: "As the file is now",
      mediaType: "application/json",
      schema: { name: "Settings", schema: settingsSchema },
    },
    problems: ["token-needed", "no-settings-file"],
    security: "writing",
  },
  {
    method: "POST",
    path: "/api/settings/check",
    summary: "What changes of the file would come to; nothing is changed",
    body,
    answer: {
      status: 200,
      description: "Line by line, with what is wrong",
      mediaType: "application/json",
      schema: { name: "SettingsCheck", schema: checkSchema },
    },
    problems: [...writing, "settings-outdated"],
    security: "writing",
  },
  {
    method: "POST",
    path: "/api/settings/apply",
    summary: "Change the file, all of it or nothing, and read it again",
    body,
    answer: applied,
    problems: [...writing, "settings-outdated", "settings-refused", "not-editable"],
    security: "writing",
  },
  {
    method: "POST",
    path: "/api/settings/undo",
    summary: "Take the last change back; once more brings it back",
    answer: applied,
    problems: [...writing, "settings-refused", "nothing-to-undo", "not-editable"],
    security: "writing",
  },
];
