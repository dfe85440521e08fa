/**
 * The composition root: builds one site's rooms, introduces them, starts and stops them in order.
 */
import type { SiteSettings } from "../config/site-settings.ts";
import { createChronicle } from "./chronicle.ts";
import { systemClock } from "./clock.ts";
import { commandRecord } from "./command-record.ts";
import { carryOver } from "./control/carry-over.ts";
import type { Daemon, DaemonOptions } from "./daemon-contract.ts";
import { firstMemory } from "./first-memory.ts";
import { fit, topicsOf } from "./fittings.ts";
import type { FittingOptions } from "./fittings.ts";
import { keptActuators, refitted } from "./refit.ts";
import { buildLearnedView } from "./learned-view.ts";
import { openSiteBroker } from "./site-broker.ts";
import type { Rooms } from "./rooms.ts";
import { createSiteLinks } from "./site-links.ts";
import { loadOnceDecided } from "./load-order.ts";
import { buildStateView } from "./state-view.ts";
import type { StateView } from "./state-view.ts";
import { createSwitchTests } from "./switch-test/switch-test.ts";
import { createSwitching } from "./switching/actuators.ts";
import { readObservation } from "./telemetry/observe.ts";
import { createTicker } from "./ticker.ts";
import { isTimeSimulated, plausibleWallMs } from "./wall-clock.ts";
import { within } from "./within.ts";

/** The first tick waits so long for the broker: a normal start raises no alarm. [ms] */
const FIRST_CONNECT_MS = 3_000;
/** How long stopping waits for the broker to acknowledge every OFF. [ms] */
const LAST_WORDS_MS = 2_000;
/** An ON is not repeated once the last decision is this many ticks old. */
const DECISION_MAX_TICKS = 5;

export function createDaemon(options: DaemonOptions): Daemon {
  const rooms = buildRooms(options);
  return {
    async start() {
      await connect(rooms);
      if (rooms.stopping !== null) return;
      rooms.ticker.start();
      await serveWeb(rooms);
    },
    stop: () => stop(rooms),
    refit: (site) => refit(rooms, site),
    state: () => stateOf(rooms),
    isListening: () => rooms.links?.isListening() ?? false,
    received: () => rooms.fittings.table.receivedCount(),
    commanded: () => rooms.switching?.sentCount() ?? 0,
    onDecision(listener) {
      rooms.listeners.add(listener);
      return () => rooms.listeners.delete(listener);
    },
    webAddress: () => rooms.web?.address ?? null,
    brokerUrl: () => rooms.broker?.url ?? null,
  };
}

function buildRooms(options: DaemonOptions): Rooms {
  const { site, clock, log, mode } = options;
  const ticker = createTicker({
    clock,
    tickMs: site.control.tickMs,
    onTick: () => {
      const startMs = systemClock.monotonicMs();
      try {
        tick(rooms);
      } catch (error) {
        fail(rooms, error);
      }
      rooms.chronicle.ticked(systemClock.monotonicMs() - startMs);
    },
  });
  const fitting: FittingOptions = {
    clock,
    mode,
    log,
    publish: (message) => rooms.links?.telemetry.publish(message) ?? Promise.resolve(false),
    requestTick: ticker.requestEarly,
    reload: options.reload ?? null,
    recordedTime: options.recordedTime ?? null,
    timesBefore: options.restored?.times ?? null,
  };
  const rooms: Rooms = {
    options,
    fitting,
    fittings: fit(site, fitting, null),
    ticker,
    chronicle: createChronicle({
      site,
      clock,
      log,
      ignoredCounts: () => rooms.fittings.table.ignoredCounts(),
    }),
    listeners: new Set(),
    switchTests: createSwitchTests({
      mode,
      site: () => rooms.fittings.site,
      memory: () => rooms.memory,
      askLoad: (id, order) => rooms.fittings.requests.askLoad(id, order),
      whenOver: ({ id, isProven, outcome }) =>
        log.part("switching").info({ load: id, isProven, outcome }, "switch test is over"),
    }),
    memory: null,
    decision: null,
    broker: null,
    links: null,
    switching: null,
    web: null,
    exchange: Promise.resolve(),
    stopping: null,
  };
  return rooms;
}

/** Everything at once, and only from a place where no tick is under way. */
function refit(rooms: Rooms, next: SiteSettings): readonly string[] {
  const { fittings: before, memory, links, switching, ticker, chronicle, options } = rooms;
  const { site, needsRestart } = refitted(before.site, next);
  const kept = keptActuators(before.site, site);
  rooms.fittings = fit(site, rooms.fitting, before);
  before.publisher.forget(site);
  chronicle.refit(site);
  options.history?.refit(site);
  ticker.setPace(site.control.tickMs);
  if (memory !== null) {
    const nowMs = options.clock.monotonicMs();
    rooms.memory = carryOver(memory, site.control, { kept, nowMs });
  }
  const exchange = links?.refit(site, topicsOf(rooms.fittings));
  const farewell = switching?.refit(links?.commands() ?? [], decisionMaxAgeMs(site));
  rooms.exchange = Promise.all([rooms.exchange, farewell]).then(() => exchange?.());
  rooms.exchange.catch((error: unknown) => fail(rooms, error));
  ticker.requestEarly();
  return needsRestart;
}

function decisionMaxAgeMs({ control }: SiteSettings): number {
  return DECISION_MAX_TICKS * control.tickMs;
}

function tick(rooms: Rooms): void {
  const { options } = rooms;
  const { clock } = options;
  const { site, table, requests, publisher, localTime, guidance } = rooms.fittings;
  const wallMs = clock.wallMs();
  const observation = readObservation(table, site.control, {
    monotonicMs: clock.monotonicMs(),
    wallMs,
    isWallClockPlausible: plausibleWallMs(options) !== null,
    ...localTime(wallMs),
    isBrokerConnected: rooms.links?.haveStayedUp() ?? false,
    loadRequest: requests.loadRequest,
    panelRequest: requests.panelRequest,
    unlearn: requests.unlearnRequest(),
  });
  requests.forget();
  const before = rooms.memory ?? firstMemory(options.restored, site.control, observation);
  const { memory, decision } = options.step(before, observation, site.control);
  rooms.memory = memory;
  rooms.decision = decision;
  rooms.switching?.apply(decision);
  publisher.tell(decision, memory);
  rooms.chronicle.note(decision);
  options.history?.record({ observation, memoryBefore: before, memory, decision });
  rooms.switchTests.note({ site, observation, decision, memory });
  for (const listener of rooms.listeners) listener(decision, observation);
  requests.decided();
  const timesBefore = guidance.times();
  const advice = guidance.ticked({ memory, observation, verdict: decision.site });
  if (guidance.times() !== timesBefore) options.history?.keepTimes(guidance.times());
  if (advice !== null) publisher.advise(advice);
}

function stateOf(rooms: Rooms): StateView {
  const { options, ticker } = rooms;
  const { site, table } = rooms.fittings;
  return buildStateView({
    site,
    version: options.version ?? "unknown",
    mode: options.mode,
    isTimeSimulated: isTimeSimulated(options),
    wallMs: options.clock.wallMs(),
    isBrokerConnected: rooms.links?.areUp() ?? false,
    brokerTroubles: rooms.links?.troubles() ?? [],
    decision: rooms.decision,
    memory: rooms.memory,
    switchTest: rooms.switchTests.view(),
    signals: table.views(),
    counters: {
      tickCount: ticker.tickCount(),
      overrunCount: ticker.overrunCount(),
      receivedCount: table.receivedCount(),
      ignoredCounts: table.ignoredCounts(),
      commandCount: rooms.switching?.sentCount() ?? 0,
      brokerLossCount: rooms.links?.losses() ?? 0,
      requestCounts: rooms.fittings.desk.counts(),
    },
  });
}

async function connect(rooms: Rooms): Promise<void> {
  const { options, ticker } = rooms;
  const { site, clock, log, mode } = options;
  rooms.broker = await openSiteBroker(site, options.broker, log.part("broker"));
  rooms.links = createSiteLinks({
    site,
    access: rooms.broker.access,
    mode,
    isTimeSimulated: isTimeSimulated(options),
    topics: topicsOf(rooms.fittings),
    clock: systemClock,
    log: log.part("broker"),
    handlers: {
      onMessage: (message) => {
        const { desk, table } = rooms.fittings;
        if (!desk.receive(message)) table.receive(message);
      },
      onTelemetryUp: () => rooms.fittings.publisher.up(),
      onTelemetryDown: () => {
        rooms.fittings.table.cut();
        ticker.requestEarly();
      },
      onCommandUp: (clientId) => rooms.switching?.linkUp(clientId),
      onCommandDown: (clientId) => {
        rooms.switching?.linkDown(clientId);
        ticker.requestEarly();
      },
      onFault: (error) => fail(rooms, error),
    },
  });
  rooms.switching = createSwitching({
    links: rooms.links.commands(),
    clock,
    log: log.part("switching"),
    decisionMaxAgeMs: decisionMaxAgeMs(site),
    onAnswer: (answer) => {
      const record = commandRecord(answer, clock.wallMs());
      if (record !== null) options.history?.recordCommand(record);
    },
  });
  await rooms.links.start();
  await rooms.links.waitUntilUp(FIRST_CONNECT_MS);
}

async function serveWeb(rooms: Rooms): Promise<void> {
  const { site, log, webPort, reload } = rooms.options;
  if (webPort === null) return;
  const { startWebServer } = await import("./web/server.ts");
  rooms.web = await startWebServer({
    settings: { ...site.web, port: webPort ?? site.web.port },
    log: log.part("web"),
    source: {
      state: () => stateOf(rooms),
      site: () => rooms.fittings.site,
      isTimeSimulated: isTimeSimulated(rooms.options),
      lastTickAgeMs: rooms.ticker.lastTickAgeMs,
      tickMs: () => rooms.fittings.site.control.tickMs,
      reload: reload ?? null,
      guidance: () => rooms.fittings.guidance.view(),
      learned: () =>
        buildLearnedView(rooms.fittings.site, rooms.memory, rooms.options.clock.wallMs()),
      requestUnlearn: (what) => rooms.fittings.requests.askUnlearn(what),
      settings: rooms.options.settings ?? null,
      requestClear: (kind, id) => rooms.fittings.requests.askClear(kind, id),
      requestLoad: (id, order) =>
        loadOnceDecided(id, rooms.fittings.requests.askLoad(id, order), () => stateOf(rooms)),
      testAlert: () => rooms.fittings.publisher.testAlert(),
      testSwitch: (id) => rooms.switchTests.begin(id),
      chronicle: rooms.chronicle,
      past: rooms.options.past ?? null,
      whatIf: rooms.options.whatIf ?? null,
    },
  });
}

function fail(rooms: Rooms, error: unknown): void {
  const { log, onFatal } = rooms.options;
  log.error({ err: error }, "programmer's error: everything is switched off, the process ends");
  void stop(rooms).finally(() => onFatal?.(error));
}

function stop(rooms: Rooms): Promise<void> {
  return (rooms.stopping ??= stopRooms(rooms));
}

async function stopRooms(rooms: Rooms): Promise<void> {
  const { links, switching, options } = rooms;
  rooms.ticker.stop();
  if (links !== null && switching !== null) {
    if ((await within(LAST_WORDS_MS, switching.allOff())) !== true) {
      options.log.warn({}, "not every OFF was acknowledged; the hold times have to do it");
    }
    await within(LAST_WORDS_MS, rooms.fittings.publisher.offline());
  }
  await rooms.web?.close();
  await links?.end();
  await rooms.broker?.close();
}
