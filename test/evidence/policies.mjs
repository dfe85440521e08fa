import { loadSite } from "../../dist/config/load.js";
import { readPlantChanges } from "../../dist/simulator/plant/plant-changes.js";
import { runTrials } from "../../dist/simulator/trials.js";
import { misses } from "./misses.mjs";
import { pathOf } from "./protocol.mjs";
import { daysOf } from "./weather-year.mjs";

/** null: the settings file does not know this policy. */
export function siteFor(protocol, site, overrides) {
  try {
    return loadSite({ path: pathOf(site.settings), overrides });
  } catch (error) {
    if (error.name !== "UserError") throw error;
    console.error(`not run, the settings refuse it:\n${error.message}`);
    return null;
  }
}

/** @returns one report for each of the sites, in their order. */
export function trials(protocol, { site, days, sites }) {
  const { stepS, startFraction } = protocol;
  const changes = readPlantChanges(pathOf(site.plant));
  const input = { days, stepS, startFraction, mayBridge: true, changes };
  return runTrials(sites, input, { onProgress: () => undefined });
}

/** The best of the protocol's thresholds by its own rule, on its own years. */
export async function tunedThreshold(protocol, { site, station, folder, say }) {
  const { at, set } = protocol.policies.b;
  const { refineSeeds, householdSeeds } = protocol.tuneThreshold;
  const [seed, household] = [refineSeeds[0], householdSeeds[0]];
  const days = await daysOf(protocol, { station, folder, seed, household });
  // One under the site's floor is no setting: it would draw on the reserve by itself.
  const candidates = at.flatMap((value) => {
    const overrides = set.map((one) => one.replace("{at}", value));
    const settings = siteFor(protocol, site, overrides);
    return settings === null ? [] : [{ at: value, settings }];
  });
  if (candidates.length === 0) throw new Error("no threshold of the protocol is a setting");
  const sites = candidates.map(({ settings }) => settings);
  const reports = await trials(protocol, { site, days, sites });
  const ranked = reports
    .map(({ totals, days: count }, place) => ({
      at: candidates[place].at,
      site: sites[place],
      usefulWh: totals.usefulDivertedWh,
      over: misses(protocol, { ...totals, days: count }).over,
    }))
    .sort((one, other) => one.over - other.over || other.usefulWh - one.usefulWh);
  const best = ranked[0];
  say(`${site.id}/${station}: threshold ${best.at}, ${best.over.toFixed(1)} days over the limit`);
  return best;
}
