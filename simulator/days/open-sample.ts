import { readFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import type { SiteSettings } from "../../config/site-settings.ts";
import { readDayCsv } from "./read-csv.ts";
import type { DaySeries } from "./day-file.ts";
import { syntheticDay } from "../weather/synthetic-day.ts";

/** The measured day that is shipped: broken cloud, with a measured household. */
const MEASURED = fileURLToPath(new URL("../samples/measured-broken-cloud.csv", import.meta.url));

/** Date and seed of the made-up days; any would do, but they are to be the same for everyone. */
const MADE_UP = { localDate: "2025-06-12", seed: 1 } as const;

export const SAMPLE_NAMES = [
  "sample:measured",
  "sample:clear",
  "sample:broken",
  "sample:overcast",
] as const;

/** @returns null if there is no sample of that name. */
export function openSample(name: string, site: SiteSettings): DaySeries | null {
  switch (name) {
    case "sample:measured":
      return { ...readDayCsv(readFileSync(MEASURED, "utf8"), name), name };
    case "sample:clear":
      return syntheticDay({ site, kind: "clear", ...MADE_UP });
    case "sample:broken":
      return syntheticDay({ site, kind: "broken", ...MADE_UP });
    case "sample:overcast":
      return syntheticDay({ site, kind: "overcast", ...MADE_UP });
    default:
      return null;
  }
}
