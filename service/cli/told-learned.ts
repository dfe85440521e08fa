/** What a running service has learned, as tables of at most 80 columns. */
import type { z } from "zod";
import { COLUMNS, hangingLines } from "../hanging-text.ts";
import { learnedSchema } from "../web/routes/learned-document.ts";

type Learned = z.output<typeof learnedSchema>;
type LearnedArray = Learned["arrays"][number];

const HEAD_WIDTH = 8;
const CELL_WIDTH = 4;
/** Sun positions side by side that fit into a line. */
const CELLS_MAX = Math.floor((COLUMNS - HEAD_WIDTH) / CELL_WIDTH);
const AZIMUTH_STEP_DEG = 10;
const ALTITUDE_STEP_DEG = 5;
/** Days of the sky's record that are shown. */
const DAYS_SHOWN = 10;

/** @throws ZodError for an answer that is none of ours. */
export function tellLearned(answer: unknown): string {
  const learned = learnedSchema.parse(answer);
  const { site, at } = learned;
  const lines = [at === null ? `${site.label}: nothing yet` : `${site.label}, ${at}`];
  for (const array of learned.arrays) lines.push("", ...tellArray(array));
  lines.push("", ...tellBase(learned.baseLoad));
  lines.push("", ...tellSky(learned.sky));
  if (learned.forecast.days > 0) lines.push("", ...tellForecast(learned.forecast));
  if (learned.battery.lossFactor !== null) {
    lines.push("", ...tellBattery(learned.battery.lossFactor));
  }
  lines.push("", ...tellLoads(learned.loads));
  return lines.join("\n");
}

function tellArray(array: LearnedArray): string[] {
  const { id, generalFraction, seenTiltDeg, seenAzimuthDeg, cells } = array;
  const elsewhere =
    `${percent(generalFraction)} % where the sun was not seen yet, of one that looks to ` +
    `${seenAzimuthDeg.toFixed(0)}°, tilted by ${seenTiltDeg.toFixed(0)}°.`;
  if (cells.length === 0) {
    return hangingLines("", `Array ${id}: ${elsewhere} No sun position was learned yet.`, 2);
  }
  const intro =
    `Array ${id}: what it gives under a clear sky, in per cent of the model of a clean array, by ` +
    `where the sun stands; ${elsewhere}`;
  const azimuths = stepsOver(
    cells.map(({ azimuthDeg }) => azimuthDeg),
    AZIMUTH_STEP_DEG,
  );
  const lines = hangingLines("", intro, 2);
  for (let from = 0; from < azimuths.length; from += CELLS_MAX) {
    lines.push("", ...skyTable(cells, azimuths.slice(from, from + CELLS_MAX)));
  }
  return lines;
}

/** Low sun at the bottom, as one sees it. */
function skyTable(cells: LearnedArray["cells"], azimuths: readonly number[]): string[] {
  const here = cells.filter(({ azimuthDeg }) => azimuths.includes(azimuthDeg));
  const altitudes = stepsOver(
    here.map(({ altitudeDeg }) => altitudeDeg),
    ALTITUDE_STEP_DEG,
  ).reverse();
  const rows = altitudes.map((altitude) => {
    const row = azimuths.map((azimuth) => {
      const cell = here.find((one) => one.azimuthDeg === azimuth && one.altitudeDeg === altitude);
      return (cell === undefined ? "." : percent(cell.fraction)).padStart(CELL_WIDTH);
    });
    return `${`${altitude}°`.padStart(HEAD_WIDTH)}${row.join("")}`;
  });
  const foot = azimuths.map((azimuth) => String(azimuth).padStart(CELL_WIDTH)).join("");
  return [...rows, `${"azimuth".padStart(HEAD_WIDTH)}${foot}`];
}

/** Every step from the least to the greatest. */
function stepsOver(values: readonly number[], step: number): number[] {
  const steps: number[] = [];
  for (let at = Math.min(...values); at <= Math.max(...values); at += step) steps.push(at);
  return steps;
}

function tellBase({ isKnown, hours }: Learned["baseLoad"]): string[] {
  const known = isKnown ? "" : ", not known well enough yet for an outlook";
  const seen = hours.filter(({ seenDays }) => seenDays > 0);
  const lines = hangingLines("", `Everyday use by the hour, at the battery${known}:`, 2);
  if (seen.length === 0) return [...lines, "  no hour was seen yet"];
  const line = ({ hour, meanW, spreadW }: (typeof hours)[number]): string => {
    const mean = meanW.toFixed(0).padStart(6);
    return `${String(hour).padStart(4)} h ${mean} W ±${spreadW.toFixed(0).padStart(5)} W`;
  };
  const half = Math.ceil(seen.length / 2);
  for (let row = 0; row < half; row += 1) {
    const right = seen[row + half];
    const left = seen[row];
    if (left === undefined) continue;
    lines.push(right === undefined ? line(left) : `${line(left)}      ${line(right)}`);
  }
  return lines;
}

function sensorText({ sensorFactor, sensorShortfall }: Learned["sky"]): string {
  if (sensorFactor === null || sensorShortfall === null) return "";
  const shown = `${percent(sensorFactor)} % of the clearness that the light sensor shows`;
  const short = `fall short of that by ${percent(sensorShortfall)} % on the mean`;
  return ` The arrays show ${shown}, and ${short}.`;
}

function tellBattery(lossFactor: number): string[] {
  const times = `${lossFactor.toFixed(2)} times as much charge as its settings say`;
  return hangingLines("", `Battery: towards full it loses ${times}.`, 2);
}

function tellSky(sky: Learned["sky"]): string[] {
  const { clearnessFraction, days } = sky;
  const now =
    clearnessFraction === null
      ? "it was not seen yet how clear it is"
      : `when last seen, ${percent(clearnessFraction)} % of what is expected of a clear sky`;
  const shown = days.length === 0 ? "" : ` The last ones, in twelfths from sunrise to sunset:`;
  const text = `Sky: ${now}; ${days.length} days on record.${sensorText(sky)}${shown}`;
  const rows = days.slice(-DAYS_SHOWN).map(({ date, clearnessFractions }) => {
    const parts = clearnessFractions.map((part) =>
      (part === null ? "." : percent(part)).padStart(CELL_WIDTH),
    );
    return `  ${date}${parts.join("")}`;
  });
  return [...hangingLines("", text, 2), ...rows];
}

function tellForecast(forecast: Learned["forecast"]): string[] {
  const { days, explainedFraction, beliefFraction } = forecast;
  const worth =
    explainedFraction === null
      ? "too few to say what they are worth; they count for nothing yet."
      : `they explain ${percent(explainedFraction)} % of the differences between days, and count ` +
        `for ${percent(beliefFraction)} % of what they could.`;
  return hangingLines("", `Forecasts: ${days} days on record, ${worth}`, 2);
}

function tellLoads(loads: Learned["loads"]): string[] {
  const lines = ["Loads, as they were seen to draw:"];
  for (const { id, stages } of loads) {
    const drawn = stages.map(({ ratedW, learnedW }) =>
      learnedW === null
        ? `not seen (rated ${ratedW.toFixed(0)} W)`
        : `${learnedW.toFixed(0)} W (rated ${ratedW.toFixed(0)} W)`,
    );
    const isFar = stages.some(({ isFarFromRated }) => isFarFromRated);
    const doubt = isFar ? ". That is far from what the settings say: see which is right" : "";
    lines.push(...hangingLines(`  ${id}: `, `${drawn.join(", ")}${doubt}`, 4));
  }
  return lines;
}

function percent(fraction: number): string {
  return (100 * fraction).toFixed(0);
}
