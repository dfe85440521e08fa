/**
 * The demo's stage: an embedded broker, a simulated shed that publishes over it, and the real
 * daemon subscribed to it, all in simulated time.
 *
 * Simulated time never runs ahead of the messages: a step ends when what the shed published has
 * reached the daemon and what the daemon commanded has reached the shed. On a busy machine the demo
 * is then slower than asked, but it is the same demo, and no telemetry goes stale by haste.
 */
import { createServer } from "node:net";
import { setImmediate as turn } from "node:timers/promises";
import type { SiteSettings } from "../../config/site-settings.ts";
import { createLocalCalendar } from "../../config/local-calendar.ts";
import type { LocalTime } from "../../config/local-calendar.ts";
import type { DaySeries } from "../../simulator/days/day-file.ts";
import type { OutcomeReport } from "../../simulator/outcome.ts";
import { createRig } from "../../simulator/rig.ts";
import type { Bus, BusMessage, Rig } from "../../simulator/rig.ts";
import { createShed } from "../../simulator/shed.ts";
import type { Shed } from "../../simulator/shed.ts";
import type { BrokerAccess } from "../broker/access.ts";
import { createConnection } from "../broker/connection.ts";
import type { BrokerConnection } from "../broker/connection.ts";
import { createEmbeddedBroker } from "../broker/embedded.ts";
import { systemClock } from "../clock.ts";
import type { Decision } from "../control/decision.ts";
import type { Step } from "../control/step.ts";
import { createDaemon } from "../daemon.ts";
import type { Daemon } from "../daemon-contract.ts";
import type { Log, RootLog } from "../log.ts";
import { createDemoClock } from "./demo-clock.ts";
import type { DemoClock } from "./demo-clock.ts";

export interface DemoOptions {
  readonly site: SiteSettings;
  readonly days: Iterable<DaySeries>;
  readonly startFraction: number;
  /** Simulated time over real time. [1] > 0 */
  readonly speed: number;
  /** Simulated time to run; the record may end earlier. [ms] > 0 */
  readonly forMs: number;
  readonly step: Step;
  readonly log: RootLog;
  readonly version: string;
  readonly listener: DemoListener;
}

export interface DemoListener {
  /** Before the first step; the demo waits for it. */
  onReady(addresses: { readonly broker: string; readonly web: string | null }): Promise<void>;
  /** After each tick of the daemon. */
  onDecision(decision: Decision, time: LocalTime): void;
}

export interface DemoRun {
  /** Runs to the end; resolves with what happened. @throws UserError */
  run(): Promise<OutcomeReport>;
  /** Ends the run at the next step, everything off. */
  end(): void;
}

/** A step in which a message is missing for so long goes on without it. [ms] */
const STEP_PATIENCE_MS = 2_000;

interface Stage {
  readonly rig: Rig;
  readonly shed: Shed;
  readonly daemon: Daemon;
  readonly clock: DemoClock;
}

export function createDemoRun(options: DemoOptions): DemoRun {
  let isEnding = false;
  return {
    end() {
      isEnding = true;
    },
    async run() {
      const { site, log, listener } = options;
      let decision: Decision | null = null;
      const calendar = createLocalCalendar(site.timeZone);
      const lastDecision = (): Decision | null => decision;
      // Reads the first day, which may be missing: while nothing is open yet that would stay open.
      const shed = createShed({ ...options, calendar, lastDecision });
      const broker = await openBroker(site, log.part("broker"));
      const bus = createBus(broker.access, log.part("broker"));
      const clock = createDemoClock(shed.startWallMs);
      const { plantSide } = shed;
      const rig = createRig({ site, bus: bus.bus, plantSide, wallMs: () => clock.wallMs() });
      const daemon = createDaemon({
        site: {
          ...site,
          // The controller, too, has to know whose sun it is.
          control: { ...site.control, ...shed.place },
        },
        recordedTime: shed.calendar,
        clock,
        step: options.step,
        log,
        mode: "active",
        version: options.version,
        webPort: await freePort(site.web),
        broker: broker.access,
      });
      daemon.onDecision((decided) => {
        decision = decided;
        listener.onDecision(decided, shed.calendar(clock.wallMs()));
      });
      try {
        rig.start();
        await bus.open();
        await daemon.start();
        const address = daemon.webAddress();
        const web = address === null ? null : `http://${address.host}:${String(address.port)}`;
        await listener.onReady({ broker: broker.url, web });
        await runSteps({ rig, shed, daemon, clock }, options, () => isEnding);
      } finally {
        await daemon.stop();
        await bus.close();
        await broker.close();
      }
      return shed.report();
    },
  };
}

async function runSteps(
  stage: Stage,
  options: DemoOptions,
  isEnding: () => boolean,
): Promise<void> {
  const { rig, shed, daemon, clock } = stage;
  const stepMs = options.site.control.tickMs;
  const startedMs = systemClock.monotonicMs();
  for (let elapsedMs = 0; elapsedMs < options.forMs && !isEnding(); elapsedMs += stepMs) {
    if (!shed.hasWeatherAt(elapsedMs)) return;
    rig.publish();
    await until(() => daemon.received() >= rig.publishedCount());
    clock.advanceTo(elapsedMs);
    await until(() => commandsSeen(rig) >= daemon.commanded());
    rig.advance(stepMs);
    const aheadMs = (elapsedMs + stepMs) / options.speed - (systemClock.monotonicMs() - startedMs);
    if (aheadMs >= 1) await pause(aheadMs);
  }
}

function commandsSeen(rig: Rig): number {
  const { obeyed, refused } = rig.commandCounts();
  return obeyed + refused;
}

/** Lets the event loop turn until `isDone`, for a limited time. */
async function until(isDone: () => boolean): Promise<void> {
  const startedMs = systemClock.monotonicMs();
  while (!isDone() && systemClock.monotonicMs() - startedMs < STEP_PATIENCE_MS) {
    await turn();
  }
}

function pause(forMs: number): Promise<void> {
  return new Promise((resolve) => systemClock.schedule(forMs, resolve));
}

/** The port of the settings if it is free, else any; on this machine, whatever they say. */
async function openBroker(site: SiteSettings, log: Log): ReturnType<typeof createEmbeddedBroker> {
  const open = { host: "127.0.0.1", users: null, tls: null };
  try {
    return await createEmbeddedBroker({ ...open, port: site.broker.embedded?.port ?? 0 }, log);
  } catch {
    return createEmbeddedBroker({ ...open, port: 0 }, log);
  }
}

/** The web server's own port, or 0 for any where that is taken. */
async function freePort({ host, port }: SiteSettings["web"]): Promise<number> {
  const probe = createServer();
  const isFree = await new Promise<boolean>((resolve) => {
    probe.once("error", () => resolve(false));
    probe.listen({ host, port }, () => resolve(true));
  });
  if (!isFree) return 0;
  await new Promise((resolve) => probe.close(resolve));
  return port;
}

interface ShedBus {
  readonly bus: Bus;
  open(): Promise<void>;
  close(): Promise<void>;
}

/** The shed's own connection, as its devices would have one. */
function createBus(access: BrokerAccess, log: Log): ShedBus {
  const topics: string[] = [];
  const handlers: ((message: BusMessage) => void)[] = [];
  let whenUp = (): void => undefined;
  const isUp = new Promise<void>((resolve) => {
    whenUp = resolve;
  });
  const connection: BrokerConnection = createConnection({
    access,
    clientId: "simulated-shed",
    will: null,
    clock: systemClock,
    log,
    handlers: {
      onUp: () => whenUp(),
      onDown: () => undefined,
      onMessage(message) {
        for (const handler of handlers) handler(message);
      },
      onFault(error) {
        throw error;
      },
    },
  });
  return {
    bus: {
      publish(topic, payload, { qos, isRetained }) {
        void connection.publish({ topic, payload, qos, isRetained, messageExpiryS: null });
      },
      subscribe(wanted, handler) {
        topics.push(...wanted);
        handlers.push(handler);
      },
    },
    async open() {
      await connection.start();
      await isUp;
      await connection.subscribe(topics);
    },
    close: () => connection.end(),
  };
}
