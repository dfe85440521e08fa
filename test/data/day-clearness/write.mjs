// How clear each twelfth of each day of a typical year was: node write.mjs FILE.epw > denver.csv
// Needs a build. Twelfths with a sun under 5° are left empty: hours say too little of them.
import { readFileSync } from "node:fs";
import { clearSkyOf, DEFAULT_OPTICAL_DEPTH, DEFAULT_WATER_CM } from "../../../dist/service/solar/clear-sky.js";
import { extraterrestrialWm2, meanDayOfYear } from "../../../dist/service/solar/extraterrestrial.js";
import { sunPosition, sunTimes } from "../../../dist/service/solar/sun.js";

const PARTS = 12;
const HOUR_MS = 3_600_000;
const [place, ...rows] = readFileSync(process.argv[2], "utf8")
  .split(/\r?\n/u)
  .map((line) => line.split(","))
  .filter((cells) => cells[0] === "LOCATION" || /^\d{4}$/u.test(cells[0]));
const [latitudeDeg, longitudeDeg, offsetH, elevationM] = place.slice(6, 10).map(Number);
const air = { elevationM, opticalDepth: DEFAULT_OPTICAL_DEPTH, waterCm: DEFAULT_WATER_CM };
const clearSky = clearSkyOf(air);

console.log("day,part_1,part_2,part_3,part_4,part_5,part_6,part_7,part_8,part_9,part_10,part_11,part_12");
for (let day = 0; day < 365; day += 1) {
  // A year without the 29th of February, in the place of all that the months were taken from.
  const midnightMs = Date.UTC(2025, 0, 1 + day) - offsetH * HOUR_MS;
  const { sunriseMs, sunsetMs } = sunTimes(midnightMs + 12 * HOUR_MS, latitudeDeg, longitudeDeg);
  const parts = Array.from({ length: PARTS }, (_, part) => {
    const middleMs = sunriseMs + ((part + 0.5) / PARTS) * (sunsetMs - sunriseMs);
    const { altitudeDeg } = sunPosition(middleMs, latitudeDeg, longitudeDeg);
    if (altitudeDeg < 5) return "";
    const clearness = clearnessAt(day, (middleMs - midnightMs) / HOUR_MS, midnightMs);
    return clearness.toFixed(3);
  });
  console.log([day, ...parts].join(","));
}

/** Between the middles of two hours; an hour's value is that of the time before it. */
function clearnessAt(day, hour, midnightMs) {
  const at = hour - 0.5;
  const first = Math.floor(at);
  const share = at - first;
  const [before, after] = [first, first + 1].map((index) => hourClearness(day, index, midnightMs));
  return before + share * (after - before);
}

function hourClearness(day, hour, midnightMs) {
  const measured = Number(rows[day * 24 + hour][13]);
  let clear = 0;
  for (let minute = 2.5; minute < 60; minute += 5) {
    const atMs = midnightMs + hour * HOUR_MS + minute * 60_000;
    const { altitudeDeg } = sunPosition(atMs, latitudeDeg, longitudeDeg);
    clear += clearSky(altitudeDeg, extraterrestrialWm2(meanDayOfYear(atMs))).globalWm2 / 12;
  }
  return clear < 20 ? 0 : Math.min(1.3, measured / clear);
}
