import { createLocalCalendar } from "../../dist/config/local-calendar.js";
import { computeBound } from "../../dist/simulator/bound/bound.js";
import { solveInWorker } from "../../dist/simulator/bound/solve-in-worker.js";
import { plantOf, readPlantChanges } from "../../dist/simulator/plant/plant-changes.js";
import { siteFor } from "./policies.mjs";
import { pathOf } from "./protocol.mjs";

/** The bound knows no policy: settings and plant are all that it takes. */
export async function boundOfRun(protocol, { site, days }) {
  const settings = siteFor(protocol, site, []);
  const plant = plantOf(settings, readPlantChanges(pathOf(site.plant)));
  const bound = await computeBound(
    {
      site: settings,
      plant,
      days,
      calendar: createLocalCalendar(settings.timeZone),
      stepS: protocol.stepS,
      startFraction: protocol.startFraction,
      mayBridge: true,
    },
    (programme) => solveInWorker(programme, { onProgress: () => undefined }),
  );
  const { usefulDivertedWh, sunsetMisses } = bound;
  return { days: bound.perDay.length, usefulDivertedWh, unavoidableMisses: sunsetMisses };
}
