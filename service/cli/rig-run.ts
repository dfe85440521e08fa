/**
 * The rig: a broker, a simulated shed that publishes over it, and the real service subscribed to
 * it, all in simulated time. The demo is a rig that is slowed down to be watched.
 *
 * Simulated time never runs ahead of the messages: a step ends when what the shed published has
 * reached the service and what the service commanded has reached the shed. On a busy machine the
 * run is then slower than asked, but it is the same run, and no telemetry goes stale by haste.
 */
import { randomUUID } from "node:crypto";
import type { SiteSettings } from "../../config/site-settings.ts";
import { createLocalCalendar } from "../../config/local-calendar.ts";
import { createRig } from "../../simulator/rig.ts";
import type { Rig } from "../../simulator/rig.ts";
import { createShed } from "../../simulator/shed.ts";
import type { Shed } from "../../simulator/shed.ts";
import { accessFrom } from "../broker/access.ts";
import type { BrokerAccess } from "../broker/access.ts";
import { createEmbeddedBroker } from "../broker/embedded.ts";
import { systemClock } from "../clock.ts";
import type { Log } from "../log.ts";
import { createShedBus, refuseRealShed } from "./rig-bus.ts";
import type { RigRun, RigRunOptions, RigService } from "./rig-contract.ts";
import { rigTopic } from "./rig-protocol.ts";
import type { FromRig } from "./rig-protocol.ts";
import { createRemoteService } from "./rig-remote.ts";
import { createHouseService } from "./rig-service.ts";

interface Stage {
  readonly rig: Rig;
  readonly shed: Shed;
  readonly service: RigService;
}

export function createRigRun(options: RigRunOptions): RigRun {
  let isEnding = false;
  let service: RigService | null = null;
  return {
    decisionCount: () => service?.decisionCount() ?? 0,
    end() {
      isEnding = true;
    },
    async run() {
      const { site, log, listener } = options;
      const calendar = createLocalCalendar(site.timeZone);
      const lastDecision = () => service?.lastDecision() ?? null;
      // Reads the first day, which may be missing: while nothing is open yet that would stay open.
      const shed = createShed({ ...options, calendar, lastDecision });
      const broker = await openBroker(options, log.part("broker"));
      const run = randomUUID();
      const { bus, ...line } = createShedBus({
        access: broker.access,
        clientId: `simulated-shed-${site.id}`,
        // A service that follows a rig which is killed must not wait in simulated time for ever.
        will: options.serviceElsewhere === null ? null : lastWill(site.id, run),
        log: log.part("broker"),
      });
      const { plantSide } = shed;
      let elapsedMs = 0;
      const wallMs = (): number => shed.startWallMs + elapsedMs;
      const rig = createRig({ site, bus, plantSide, wallMs });
      const reached = { shed, rig, bus, run, brokerUrl: broker.url, access: broker.access };
      const made =
        options.serviceElsewhere === null
          ? createHouseService(options, reached)
          : createRemoteService(options, reached);
      service = made;
      try {
        rig.start();
        await line.open();
        const { web } = await made.start();
        await listener.onReady({ broker: broker.url, web });
        await runSteps({ rig, shed, service: made }, options, (atMs) => {
          elapsedMs = atMs;
          listener.onStep?.(wallMs());
          return isEnding;
        });
      } finally {
        await made.stop();
        await line.close();
        await broker.close();
      }
      return shed.report();
    },
  };
}

function lastWill(siteId: string, run: string) {
  const end: FromRig = { kind: "end", run };
  return { topic: rigTopic(siteId), payload: JSON.stringify(end), isRetained: false };
}

/** @param goOn - Told the time of each step; true ends the run before it. */
async function runSteps(
  { rig, shed, service }: Stage,
  options: RigRunOptions,
  goOn: (elapsedMs: number) => boolean,
): Promise<void> {
  const stepMs = options.site.control.tickMs;
  const startedMs = systemClock.monotonicMs();
  for (let elapsedMs = 0; elapsedMs < options.forMs && !goOn(elapsedMs); elapsedMs += stepMs) {
    if (!shed.hasWeatherAt(elapsedMs)) return;
    rig.publish();
    await service.turn(elapsedMs);
    rig.advance(stepMs);
    const aheadMs = (elapsedMs + stepMs) / options.speed - (systemClock.monotonicMs() - startedMs);
    if (aheadMs >= 1)
      await new Promise((resolve) => systemClock.schedule(aheadMs, () => resolve(null)));
  }
}

interface RigBroker {
  readonly access: BrokerAccess;
  readonly url: string;
  readonly close: () => Promise<void>;
}

async function openBroker({ site, elsewhere }: RigRunOptions, log: Log): Promise<RigBroker> {
  if (elsewhere === null) return openOwnBroker(site, log);
  const { url, listenMs } = elsewhere;
  const access = accessFrom(site.broker, url);
  await refuseRealShed(access, site, { listenMs, log });
  return { access, url, close: () => Promise.resolve() };
}

/** The port of the settings if it is free, else any; on this machine, whatever they say. */
async function openOwnBroker(site: SiteSettings, log: Log): Promise<RigBroker> {
  const open = { host: "127.0.0.1", users: null, tls: null };
  try {
    return await createEmbeddedBroker({ ...open, port: site.broker.embedded?.port ?? 0 }, log);
  } catch {
    return createEmbeddedBroker({ ...open, port: 0 }, log);
  }
}
