/**
 * A person has something that was learned forgotten: a tree was felled, a freezer went, an element
 * was exchanged. It is part of what a tick observes, so that a recorded day can be reproduced.
 */
import { THERMOSTAT_UNSEEN } from "./draw-memory.ts";
import { initialPotential, initialResponse } from "./potential-memory.ts";
import type { LoadMemory, Memory } from "./memory.ts";
import type { Unlearn } from "./observation.ts";
import type { ControlSettings } from "./settings.ts";
import { NO_BASE } from "./outlook/base-profile.ts";
import { NO_SKY } from "./outlook/sky-record.ts";

/** The same object where the site has nothing of that name. */
export function unlearned(
  memory: Memory,
  what: Exclude<Unlearn, "none">,
  settings: Pick<ControlSettings, "sources">,
): Memory {
  if (what === "base") {
    return { ...memory, outlook: { ...memory.outlook, base: NO_BASE, hour: null, plan: null } };
  }
  if (what === "sky") return withoutSky(memory);
  if (what === "battery") return withoutLosses(memory);
  const id = what.slice(what.indexOf(".") + 1);
  return what.startsWith("array.") ? withoutArray(memory, id, settings) : withoutLoad(memory, id);
}

function withoutSky(memory: Memory): Memory {
  const { outlook, potential } = memory;
  const { sky } = initialPotential({ sources: [] });
  return {
    ...memory,
    outlook: { ...outlook, sky: NO_SKY, plan: null },
    potential: { ...potential, sky },
  };
}

/** The charge under way was counted with what is forgotten. */
function withoutLosses(memory: Memory): Memory {
  return { ...memory, battery: { ...memory.battery, lossFactor: 1, lostFraction: null } };
}

function withoutArray(
  memory: Memory,
  id: string,
  { sources }: Pick<ControlSettings, "sources">,
): Memory {
  const source = sources.find((one) => one.id === id);
  if (source === undefined) return memory;
  const { responses } = memory.potential;
  const after = responses.map((one) => (one.id === id ? initialResponse(source) : one));
  // The stretch under way was measured before the request.
  return { ...memory, potential: { ...memory.potential, responses: after, slot: null } };
}

function withoutLoad(memory: Memory, id: string): Memory {
  if (!memory.loads.some((load) => load.id === id)) return memory;
  return { ...memory, loads: memory.loads.map((load) => (load.id === id ? undrawn(load) : load)) };
}

function undrawn(load: LoadMemory): LoadMemory {
  const learnedW = load.draw.learnedW.map(() => null);
  const stepsW = learnedW.map(() => []);
  const thermostat = THERMOSTAT_UNSEEN;
  return { ...load, draw: { ...load.draw, learnedW, stepsW, idleTimes: 0, thermostat } };
}
