/** A table of latest values on a manual clock, and a shed that speaks to it. */
import { vi } from "vitest";
import type { SensorSettings, SignalSettings } from "../../config/site-settings.ts";
import { createLatestTable } from "../../service/telemetry/latest.ts";
import type { SensorChange } from "../../service/telemetry/latest.ts";
import type { SignalView } from "../../service/telemetry/views.ts";
import { plausibleWallMs } from "../../service/wall-clock.ts";
import { createManualClock } from "./manual-clock.ts";
import { testControl } from "./site.ts";

export function setUpTable(signals: readonly SignalSettings[]) {
  const clock = createManualClock();
  const requestTick = vi.fn<() => void>();
  const changes: SensorChange[] = [];
  const table = createLatestTable({
    signals,
    control: testControl(),
    nowMs: () => clock.monotonicMs(),
    wallMs: () => plausibleWallMs({ clock }),
    requestTick,
    onSensorChange: (change) => changes.push(change),
  });
  const say = (topic: string, said: string | object, isRetained = false): void => {
    const text = typeof said === "string" ? said : JSON.stringify(said);
    table.receive({ topic, payload: new TextEncoder().encode(text), isRetained });
  };
  const view = (key: SignalSettings["key"]): SignalView => {
    const found = table.views().find(({ signal }) => signal.key === key);
    if (found === undefined) throw new Error(`no signal ${key}`);
    return found;
  };
  return { clock, requestTick, changes, table, say, view };
}

/** The same signal with these sensors, in order. */
export function withSensors(
  signal: SignalSettings,
  sensors: readonly Pick<SensorSettings, "combine" | "feeds">[],
): SignalSettings {
  const [first] = signal.sensors;
  const { min, max } = first ?? { min: -1e9, max: 1e9 };
  return { ...signal, sensors: sensors.map((sensor) => ({ ...sensor, min, max })) };
}
