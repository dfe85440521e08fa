/** The history's part of the settings. */
import { resolve } from "node:path";
import type { SettingsFile } from "./schema.ts";
import type { HistorySettings } from "./site-settings.ts";

const DAY_MS = 86_400_000;
const MB = 1_000_000;

/** @param folder - Relative paths start here. */
export function toHistory({ history, site }: SettingsFile, folder: string): HistorySettings {
  return {
    folder: resolve(folder, history.folder ?? `${site.id}.history`),
    samplesKeptDays: Math.round(history.samples / DAY_MS),
    eventsKeptDays: Math.round(history.events / DAY_MS),
    journalKeptDays: Math.round(history.journal / DAY_MS),
    journalMaxBytes: history.journalSize * MB,
  };
}
