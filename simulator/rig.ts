/**
 * The simulated shed on a bus: publishes what the site's settings say that the shed publishes,
 * takes commands as its actuators would, and moves the plant in its own time. A daemon cannot tell
 * it from a shed; only the bus is handed in, so that no broker is known here.
 */
import type { SignalKey } from "../config/signals.ts";
import type { SignalSettings, SiteSettings } from "../config/site-settings.ts";
import { createActuators } from "./actuators.ts";
import type { Actuators, Positions } from "./actuators.ts";
import { createEncoder, signalName } from "./encoding.ts";
import type { SignalValue } from "./encoding.ts";

export interface BusMessage {
  readonly topic: string;
  readonly payload: Uint8Array;
}

export interface Bus {
  publish(
    topic: string,
    payload: string,
    options: { readonly qos: 0 | 1; readonly isRetained: boolean },
  ): void;
  subscribe(topics: readonly string[], handler: (message: BusMessage) => void): void;
}

/** What the rig asks of a plant. */
export interface PlantSide {
  /** Lets `dtMs` pass with the contacts where they are; 0 only solves this instant. */
  advance(dtMs: number, positions: Positions): void;
  /** Truth about a signal that no actuator reports; null: this plant has no such thing. */
  read(key: SignalKey, ownerId: string | null): SignalValue | null;
}

export interface RigOptions {
  readonly site: SiteSettings;
  readonly bus: Bus;
  readonly plantSide: PlantSide;
  /** For the time stamps that the settings name. [ms since 1970-01-01T00:00:00Z] */
  readonly wallMs: () => number;
}

export interface Rig {
  /** Puts the plant into its first state and listens to commands. */
  start(): void;
  /** Lets time pass. A hold time that runs out within it is honoured to the millisecond. */
  advance(dtMs: number): void;
  /** Publishes every known signal once. @returns How many messages that were. */
  publish(): number;
  /** Messages published since the start. */
  publishedCount(): number;
  /** Commands that were understood and those that were not. */
  commandCounts(): { readonly obeyed: number; readonly refused: number };
  /** Simulated time since the rig was made. [ms] */
  elapsedMs(): number;
  /** Mapped signals that this shed cannot tell now, by the name in the settings file. */
  silentSignals(): readonly string[];
  readonly actuators: Actuators;
}

export function createRig({ site, bus, plantSide, wallMs }: RigOptions): Rig {
  const actuators = createActuators(site.actuators, site.control);
  const encoder = createEncoder(site.telemetry);
  const read = createTruth({ site, actuators, plantSide });
  let elapsedMs = 0;
  let publishedCount = 0;
  let obeyed = 0;
  let refused = 0;

  return {
    actuators,
    start() {
      // Solves the plant at this instant, so that the first telemetry is not of a shed without sun.
      plantSide.advance(0, actuators.positions());
      bus.subscribe(actuators.topics, ({ topic, payload }) => {
        if (actuators.command(topic, new TextDecoder().decode(payload))) obeyed += 1;
        else refused += 1;
      });
    },
    advance(dtMs) {
      const endMs = elapsedMs + dtMs;
      while (elapsedMs < endMs) {
        const untilMs = Math.min(endMs, actuators.nextDropMs() ?? endMs);
        plantSide.advance(untilMs - elapsedMs, actuators.positions());
        elapsedMs = untilMs;
        actuators.advanceTo(elapsedMs);
      }
    },
    publish() {
      const messages = encoder.encode(read, wallMs());
      for (const { topic, payload } of messages) {
        bus.publish(topic, payload, { qos: 0, isRetained: false });
      }
      publishedCount += messages.length;
      return messages.length;
    },
    publishedCount: () => publishedCount,
    commandCounts: () => ({ obeyed, refused }),
    elapsedMs: () => elapsedMs,
    silentSignals: () =>
      site.telemetry.filter((signal) => read(signal) === null).map((signal) => signalName(signal)),
  };
}

/** Reports come from the actuators, everything else from the plant. */
function createTruth({
  site,
  actuators,
  plantSide,
}: Pick<RigOptions, "site" | "plantSide"> & { readonly actuators: Actuators }): (
  signal: SignalSettings,
) => SignalValue | null {
  const loadIndexes = new Map(site.control.loads.map(({ id }, index) => [id, index]));
  const panelIndexes = new Map(site.control.panels.map(({ id }, index) => [id, index]));
  return ({ key, ownerId }) => {
    const index = (key.startsWith("panel.") ? panelIndexes : loadIndexes).get(ownerId ?? "");
    if (index !== undefined) {
      if (key === "load.{id}.report") return actuators.reportedStage(index);
      if (key === "load.{id}.byHand") return actuators.isByHand(index);
      if (key === "panel.{id}.report") return actuators.isPanelClosed(index);
    }
    return plantSide.read(key, ownerId);
  };
}
