/** What is kept on disk. */
import { z } from "zod";
import { quantityOr } from "./fields.ts";

const DAY_MS = 86_400_000;

const kept = (about: string, written: string, maxDays: number) =>
  quantityOr(written, {
    dimension: "duration",
    about,
    min: DAY_MS,
    max: maxDays * DAY_MS,
    audience: "advanced",
  });

export const historySchema = z
  .strictObject({
    folder: z.string().min(1).optional().meta({
      description: "Folder of the history; from the folder of the settings file",
      default: "<site id>.history beside the settings file",
      audience: "basic",
    }),
    samples: kept("How long minute figures and decisions are kept", "400 d", 3_660),
    events: kept("How long events, commands and requests are kept", "1826 d", 18_300),
    journal: kept("How long every tick is kept, to be worked out again", "14 d", 366),
    journalSize: z
      .number()
      .int()
      .min(1)
      .max(100_000)
      .default(200)
      .meta({ description: "Size of the journal at most, in MB", audience: "advanced" }),
  })
  .prefault({})
  .meta({ description: "What is kept on disk, where and how long" });
