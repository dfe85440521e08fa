/** The site's table of latest values, on the service's clocks and with its own voice in the log. */
import type { SiteSettings } from "../config/site-settings.ts";
import type { Clock } from "./clock.ts";
import type { Log, RootLog } from "./log.ts";
import { createLatestTable } from "./telemetry/latest.ts";
import type { LatestTable, SensorChange } from "./telemetry/latest.ts";
import { plausibleWallMs } from "./wall-clock.ts";

export function createSiteTelemetry(options: {
  readonly site: SiteSettings;
  readonly clock: Clock;
  readonly log: RootLog;
  readonly recordedTime?: unknown;
  readonly requestTick: () => void;
}): LatestTable {
  const { site, clock } = options;
  const log = options.log.part("telemetry");
  return createLatestTable({
    signals: site.telemetry,
    control: site.control,
    nowMs: () => clock.monotonicMs(),
    wallMs: () => plausibleWallMs(options),
    requestTick: options.requestTick,
    onSensorChange: (change) => sayChange(log, change),
  });
}

/** Which sensor of a signal is read from now on: it tells a person that one has failed. */
function sayChange(log: Log, { signal, from, to }: SensorChange): void {
  const topics = signal.sensors[to]?.feeds.map(({ topic }) => topic) ?? [];
  const name = signal.key.replace("{id}", signal.ownerId ?? "");
  const fields = { signal: name, sensor: to + 1, topics };
  if (to > from) log.warn(fields, "a sensor is not fresh: the next one is read");
  else log.info(fields, "a sensor is fresh again and is read");
}
