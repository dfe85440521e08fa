/** Rules about place, sources, and names. */
import { errorAt, warningAt } from "./findings.ts";
import type { Finding, SettingsPath } from "./findings.ts";
import { createLocalCalendar } from "./local-calendar.ts";
import type { PartialFile } from "./partial-file.ts";
import type { SiteSection } from "./schema.ts";

export function siteChecks(file: PartialFile): readonly Finding[] {
  return [
    ...(file.site === undefined ? [] : placeFindings(file.site)),
    ...sourceFindings(file),
    ...duplicateIds(file),
  ];
}

const HOUR_MS = 3_600_000;
/** 1 January and 1 July 2026, so that one of them is not daylight-saving time. */
const WINTER_OR_SUMMER_MS = [1_767_225_600_000, 1_782_864_000_000] as const;

/** A forgotten minus sign puts a site on the other side of the world, where the zone is wrong. */
function placeFindings(site: SiteSection): readonly Finding[] {
  if (site.latitude === 0 && site.longitude === 0) {
    return [
      warningAt(["site", "latitude"], "place-doubtful", {
        expected: "0°, 0° is in the sea: give the place of the site",
      }),
    ];
  }
  const localTime = createLocalCalendar(site.timeZone);
  const solarHours = site.longitude / 15;
  const apart = WINTER_OR_SUMMER_MS.map((wallMs) => {
    const { localDay, localMinute } = localTime(wallMs);
    const zoneHours = ((localDay * 1440 + localMinute) * 60_000 - wallMs) / HOUR_MS;
    const difference = Math.abs(zoneHours - solarHours);
    return Math.min(difference, 24 - difference);
  });
  // The widest zone in use is some 3 h off the sun in its far west.
  if (Math.min(...apart) <= 3.5) return [];
  return [
    warningAt(["site", "longitude"], "place-doubtful", {
      expected: `${String(site.longitude)}° does not go with the time zone ${site.timeZone}`,
      suggestion: "east is positive, west negative",
    }),
  ];
}

function sourceFindings(file: PartialFile): readonly Finding[] {
  if (file.arrays.length + file.hydro.length + file.wind.length === 0) {
    return [
      warningAt(["arrays"], "no-source", {
        expected: "no source is described: there will never be a surplus",
        suggestion: "arrays, hydro or wind",
      }),
    ];
  }
  const latitude = file.site?.latitude;
  if (latitude === undefined) return [];
  return file.arrays.flatMap((array, index) => {
    if (array === undefined || array.tilt < 10 || Math.abs(latitude) < 30) return [];
    const isNorthFacing = array.azimuth < 60 || array.azimuth > 300;
    const isSouthFacing = array.azimuth > 120 && array.azimuth < 240;
    const isAway = latitude > 0 ? isNorthFacing : isSouthFacing;
    if (!isAway) return [];
    return [
      warningAt(["arrays", index, "azimuth"], "array-faces-away", {
        expected: "this array faces away from the midday sun",
        suggestion: "clockwise from north: 180° is south",
      }),
    ];
  });
}

interface Named {
  readonly path: SettingsPath;
  readonly id: string;
}

type NamedList = "arrays" | "hydro" | "wind" | "panels" | "loads" | "guidance";

/** Sources share one set of names; so do loads and panels, which are cleared by their name. */
function duplicateIds(file: PartialFile): readonly Finding[] {
  const named = (list: NamedList): readonly Named[] =>
    file[list].flatMap((entry, index) =>
      entry === undefined ? [] : [{ path: [list, index, "id"], id: entry.id }],
    );
  const groups = [
    [...named("arrays"), ...named("hydro"), ...named("wind")],
    [...named("panels"), ...named("loads")],
    named("guidance"),
  ];
  return groups.flatMap((group) =>
    group
      .filter(({ id }, place) => group.findIndex((other) => other.id === id) < place)
      .map(({ path }) =>
        errorAt(path, "duplicate-id", { expected: "a name that nothing else here has" }),
      ),
  );
}
