import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { basename, join } from "node:path";
import { gunzipSync } from "node:zlib";
import { madeUpHousehold, withUse } from "../../dist/simulator/import/household-column.js";
import { importFiles } from "../../dist/simulator/import/import-files.js";
import { readMapping } from "../../dist/simulator/import/read-mapping.js";
import { refineHours } from "../../dist/simulator/weather/refine-hours.js";

/** A station's typical year as days of minutes, with everyday use. */
export async function daysOf(protocol, { station, folder, seed, household }) {
  const { file, map } = protocol.data[station];
  const use = madeUpHousehold(household);
  return hourlyDays(join(folder, file), map).map((day, index) => {
    const minutes = refineHours(day, { ...day.place, elevationM: 0 }, seed + index);
    return withUse(use, minutes);
  });
}

function hourlyDays(path, map) {
  const scratch = mkdtempSync(join(tmpdir(), "bywash-evidence-"));
  try {
    const plain = join(scratch, basename(path).replace(/\.gz$/u, ""));
    const bytes = readFileSync(path);
    writeFileSync(plain, path.endsWith(".gz") ? gunzipSync(bytes) : bytes);
    const notes = { unused: new Set(), emptied: new Map() };
    return [...importFiles({ paths: [plain], mapping: readMapping(map, []), notes })];
  } finally {
    rmSync(scratch, { recursive: true });
  }
}
