/** Ticks of the real core on a plain afternoon: loads start, obey, and stop when the sun goes. */
import { initialMemory } from "../../service/control/memory.ts";
import type { Memory } from "../../service/control/memory.ts";
import type { Observation } from "../../service/control/observation.ts";
import type { ControlSettings } from "../../service/control/settings.ts";
import { step } from "../../service/control/step.ts";
import type { Tick } from "../../service/history/messages.ts";
import { fresh, load, loadObservation, observe, panelObservation, site } from "../control/given.ts";
import { TICK_MS } from "../control/given.ts";

export const settings: ControlSettings = site({
  loads: [load({ id: "spring-pump" }), load({ id: "water-heater" })],
});

export interface Shed {
  readonly settings: ControlSettings;
  /** One more tick; `over` changes what is observed. */
  readonly tick: (over?: Partial<Observation>) => Tick;
  /** As many ticks as fit; never none. */
  readonly during: (durationMs: number) => Tick[];
}

/** @param startMs - After noon of a midsummer day. */
export function createShed(startMs = 0): Shed {
  let memory: Memory = initialMemory(settings, startMs);
  let atMs = startMs;
  let count = 0;
  const tick = (over: Partial<Observation> = {}): Tick => {
    atMs += TICK_MS;
    count += 1;
    const memoryBefore = memory;
    const isSunny = Math.floor(count / 200) % 2 === 0;
    const observation = observe(settings, atMs, {
      loads: memory.loads.map(({ stage }) => loadObservation({ reportedStage: fresh(stage) })),
      panels: memory.panels.map(({ isClosed }) => panelObservation({ isClosed: fresh(isClosed) })),
      currentA: isSunny ? 52 + (count % 7) / 10 : -30,
      socFraction: isSunny ? 0.97 : 0.9,
      over,
    });
    const result = step(memoryBefore, observation, settings);
    memory = result.memory;
    return { observation, memoryBefore, memory, decision: result.decision };
  };
  return {
    settings,
    tick,
    during: (durationMs) =>
      Array.from({ length: Math.max(1, Math.floor(durationMs / TICK_MS)) }, () => tick()),
  };
}
