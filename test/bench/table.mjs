// The table of the built service for the goat dairy of the examples.
import { loadSite } from "../../dist/config/load.js";
import { createLatestTable } from "../../dist/service/telemetry/latest.js";
import { EXAMPLE } from "./site-file.mjs";

export function createTable(nowMs, wallMs) {
  const site = loadSite({ path: EXAMPLE });
  const table = createLatestTable({
    signals: site.telemetry,
    control: site.control,
    nowMs,
    wallMs,
    requestTick: () => undefined,
    onSensorChange: () => undefined,
  });
  return { site, table };
}
