/** What a daemon with these signals makes of messages that have just come. */
import type { SignalSettings } from "../../config/site-settings.ts";
import { createLatestTable } from "../../service/telemetry/latest.ts";
import type { SignalView } from "../../service/telemetry/views.ts";
import { testControl } from "./site.ts";

export function heardBy(
  signals: readonly SignalSettings[],
  messages: readonly { readonly topic: string; readonly payload: string }[],
  wallMs: number,
): readonly SignalView[] {
  const table = createLatestTable({
    signals,
    control: testControl(),
    nowMs: () => 0,
    wallMs: () => wallMs,
    requestTick: () => undefined,
    onSensorChange: () => undefined,
  });
  for (const { topic, payload } of messages) {
    table.receive({ topic, payload: new TextEncoder().encode(payload), isRetained: false });
  }
  return table.views();
}
