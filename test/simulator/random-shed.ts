/**
 * A daemon without a broker: the simulated shed, the table of telemetry, the core and the switching
 * of a random site, hour after hour in one process, with a bus between them that does what real
 * ones do: it loses, repeats and holds back messages; meters are noisy; clocks jump; links break.
 */
import fc from "fast-check";
import { loadSite } from "../../config/load.ts";
import { createLocalCalendar } from "../../config/local-calendar.ts";
import type { SiteSettings } from "../../config/site-settings.ts";
import type { SignalKey } from "../../config/signals.ts";
import type { Decision } from "../../service/control/decision.ts";
import { initialMemory } from "../../service/control/memory.ts";
import type { Memory } from "../../service/control/memory.ts";
import type { Observation } from "../../service/control/observation.ts";
import { step } from "../../service/control/step.ts";
import { createSteppedClock } from "../../service/stepped-clock.ts";
import { createSwitching } from "../../service/switching/actuators.ts";
import { planLinks } from "../../service/switching/links.ts";
import { createLatestTable } from "../../service/telemetry/latest.ts";
import { readObservation } from "../../service/telemetry/observe.ts";
import type { SignalValue } from "../../simulator/encoding.ts";
import { dayFeed } from "../../simulator/feed.ts";
import { emptyInput, fillInput } from "../../simulator/plant-input.ts";
import { createPlantSide } from "../../simulator/plant-side.ts";
import { createPlant } from "../../simulator/plant/plant.ts";
import { plantSettings } from "../../simulator/plant/plant-settings.ts";
import { createRig } from "../../simulator/rig.ts";
import type { BusMessage, PlantSide, Rig } from "../../simulator/rig.ts";
import { createRandom } from "../../simulator/weather/random.ts";
import { syntheticDay } from "../../simulator/weather/synthetic-day.ts";
import { silentLog } from "../support/log.ts";

const MINUTE_MS = 60_000;
const HOUR_MS = 60 * MINUTE_MS;

export type TroubleKind = "lost" | "repeated" | "late" | "silent" | "noise" | "clock" | "broker";

export interface Trouble {
  readonly kind: TroubleKind;
  /** Part of the run. [1] 0…1 */
  readonly from: number;
  readonly for: number;
  /** How much of it: share of the messages, size of the noise, hours of a jump. [1] −1…1 */
  readonly size: number;
}

export interface ShedCase {
  readonly example: "malga" | "tasmania";
  readonly overrides: readonly string[];
  readonly date: string;
  readonly sky: "broken" | "clear" | "overcast";
  readonly seed: number;
  readonly startFraction: number;
  readonly fromHour: number;
  readonly pace: { readonly tickS: number; readonly hours: number };
  readonly troubles: readonly Trouble[];
}

const trouble: fc.Arbitrary<Trouble> = fc.record({
  kind: fc.constantFrom<TroubleKind>(
    ...(["lost", "repeated", "late", "silent", "noise", "clock", "broker"] as const),
  ),
  from: fc.double({ min: 0.05, max: 0.9, noNaN: true }),
  for: fc.constantFrom(0.005, 0.02, 0.1, 0.4),
  size: fc.oneof(fc.constantFrom(0.05, 0.3, 1), fc.double({ min: -1, max: -0.01, noNaN: true })),
});

const MALGA_LOADS = ["water-heater", "spring-pump", "whey-cooler"];
const TASMANIA_LOADS = [
  ...["house-tank", "shed-heater", "wash-house", "orchard-pump"],
  ...["workshop"],
];

/** Settings of each load drawn anew, as a person might have written them. */
function overridesFor(loads: readonly string[]): fc.Arbitrary<readonly string[]> {
  const ofOne = fc.record({
    minRun: fc.constantFrom("1 min", "5 min", "20 min"),
    minRest: fc.constantFrom("1 min", "12 min"),
    priority: fc.constantFrom("1", "2", "3"),
    above: fc.constantFrom("1 %", "3 %"),
    quota: fc.constantFrom(null, "{ atMost: 20 min }", "{ atMost: 2 h }", "{ atMost: 1 kWh }"),
  });
  return fc.array(ofOne, { minLength: loads.length, maxLength: loads.length }).map((drawn) =>
    drawn.flatMap(({ minRun, minRest, priority, above, quota }, index) => {
      const at = `loads.${loads[index] ?? ""}`;
      return [
        `${at}.minRun=${minRun}`,
        `${at}.minRest=${minRest}`,
        `${at}.priority=${priority}`,
        `${at}.start.aboveRuleCurve=${above}`,
        ...(quota === null ? [] : [`${at}.quota=${quota}`]),
      ];
    }),
  );
}

const example = fc.oneof(
  fc.record({ example: fc.constant("malga" as const), overrides: overridesFor(MALGA_LOADS) }),
  fc.record({ example: fc.constant("tasmania" as const), overrides: overridesFor(TASMANIA_LOADS) }),
);

export const shedCases: fc.Arbitrary<ShedCase> = fc
  .tuple(
    example,
    fc.record({
      date: fc.constantFrom("2025-06-12", "2025-12-20", "2025-03-30"),
      sky: fc.constantFrom("broken", "clear", "overcast"),
      seed: fc.integer({ min: 1, max: 1_000_000 }),
      startFraction: fc.constantFrom(0.59, 0.9, 0.95, 0.99),
      fromHour: fc.integer({ min: 6, max: 13 }),
      pace: fc.constantFrom(
        { tickS: 2, hours: 0.7 },
        { tickS: 10, hours: 3 },
        { tickS: 30, hours: 9 },
        { tickS: 60, hours: 30 },
      ),
      troubles: fc.array(trouble, { maxLength: 4 }),
    }),
  )
  .map(([site, rest]) => ({ ...site, ...rest }));

export function siteOf({ example: name, overrides, pace }: ShedCase): SiteSettings {
  const tick = `site.tick=${String(pace.tickS)} s`;
  const curve = "ruleCurve={ mode: fixed, at: 90 % }";
  return loadSite({
    path: `config/examples/${name}.yaml`,
    overrides: [tick, curve, ...overrides],
  });
}

export interface ShedTick {
  readonly atMs: number;
  readonly observation: Observation;
  readonly before: Memory;
  readonly decision: Decision;
  /** All links were up. */
  readonly isLinked: boolean;
  /** Where the contacts are once the commands have come: stage of each load. */
  readonly contacts: readonly number[];
  readonly panelsClosed: readonly boolean[];
  /** A load's contact was closed behind an open panel while the commands of this tick came. */
  readonly wasFedLate: boolean;
}

export interface ShedRun {
  readonly site: SiteSettings;
  readonly ticks: readonly ShedTick[];
  /** Greatest share of a step's energy that the plant's book did not find again. */
  readonly imbalance: number;
  /** What each load took, by the plant. [Wh] */
  readonly energiesWh: readonly number[];
}

export function runShed(drawn: ShedCase): ShedRun {
  const site = siteOf(drawn);
  const world = createWorld(site, drawn);
  const { control } = site;
  const ticks: ShedTick[] = [];
  let memory: Memory | null = null;
  const endMs = drawn.pace.hours * HOUR_MS;
  for (let atMs = 0; atMs < endMs; atMs += control.tickMs) {
    world.beginStep(atMs, atMs / endMs);
    const wallMs = world.wallMs();
    const observation = readObservation(world.table, control, {
      monotonicMs: atMs,
      wallMs,
      isWallClockPlausible: true,
      ...world.calendar(wallMs),
      isBrokerConnected: world.isLinked(),
      loadRequest: () => ({ request: "none", forMs: 0 }),
      panelRequest: () => "none",
      unlearn: "none",
    });
    const before: Memory = memory ?? initialMemory(control, atMs);
    const result = step(before, observation, control);
    memory = result.memory;
    const { decision } = result;
    const wasFedLate = world.obey(decision);
    const positions = world.rig.actuators.positions();
    ticks.push({
      atMs,
      observation,
      before,
      decision,
      isLinked: world.isLinked(),
      contacts: positions.loadStages,
      panelsClosed: positions.panelsClosed,
      wasFedLate,
    });
    world.rig.advance(control.tickMs);
  }
  return { site, ticks, imbalance: world.imbalance(), energiesWh: world.energiesWh() };
}

function createWorld(site: SiteSettings, drawn: ShedCase) {
  const { control } = site;
  const random = createRandom(drawn.seed);
  const calendar = createLocalCalendar(site.timeZone);
  const shed = createBookedShed(site, drawn, calendar);
  let active: readonly Trouble[] = [];
  let jumpMs = 0;
  const sizeOf = (kind: TroubleKind): number => active.find((one) => one.kind === kind)?.size ?? 0;
  const isActive = (kind: TroubleKind): boolean => active.some((one) => one.kind === kind);

  const clock = createSteppedClock(shed.startWallMs);
  const wallMs = (): number => clock.wallMs() + jumpMs;
  const table = createLatestTable({
    signals: site.telemetry,
    control,
    nowMs: clock.monotonicMs,
    wallMs,
    requestTick: () => undefined,
    onSensorChange: () => undefined,
  });
  const held: BusMessage[] = [];
  let obey: (message: BusMessage) => void = () => undefined;
  const noisy: PlantSide = {
    advance: shed.plantSide.advance,
    read: (key, ownerId) => blurred(key, shed.plantSide.read(key, ownerId)),
  };
  /** Meters that are a little, or very much, beside the truth. */
  function blurred(key: SignalKey, value: SignalValue | null): SignalValue | null {
    // Pipes have no model; this one does not freeze.
    if (key === "load.{id}.pipeTemperature") return 8;
    if (typeof value !== "number" || !isActive("noise") || key.endsWith("report")) return value;
    return value * (1 + sizeOf("noise") * random.between(-0.2, 0.2));
  }
  const rig: Rig = createRig({
    site,
    plantSide: noisy,
    wallMs: clock.wallMs,
    bus: {
      publish: (topic, text) => deliver({ topic, payload: new TextEncoder().encode(text) }),
      subscribe: (_topics, handler) => (obey = handler),
    },
  });
  function deliver(message: BusMessage): void {
    if (!isLinked || isSilent(message.topic)) return;
    if (isActive("lost") && random.between(0, 1) < Math.abs(sizeOf("lost"))) return;
    if (isActive("late") && random.between(0, 1) < 0.7) {
      held.push(message);
      return;
    }
    const times = isActive("repeated") ? 3 : 1;
    for (let time = 0; time < times; time += 1) table.receive({ ...message, isRetained: false });
  }
  /** One publisher has fallen silent, or all of them. */
  function isSilent(topic: string): boolean {
    const size = sizeOf("silent");
    const place = Math.floor(-size * table.topics.length) % table.topics.length;
    return size > 0 || (size < 0 && topic === table.topics[place]);
  }
  let isLinked = true;
  let wasFedLate = false;
  const isFedLate = (): boolean => {
    const { loadStages, panelsClosed } = rig.actuators.positions();
    return control.loads.some(
      ({ panelIndex }, index) =>
        panelIndex !== null && panelsClosed[panelIndex] === false && (loadStages[index] ?? 0) > 0,
    );
  };
  const links = planLinks(site.id, site.actuators).map((plan) => ({
    plan,
    publish({ topic, payload }: { readonly topic: string; readonly payload: string }) {
      obey({ topic, payload: new TextEncoder().encode(payload) });
      wasFedLate ||= isFedLate();
      return Promise.resolve(true);
    },
  }));
  const decisionMaxAgeMs = 5 * control.tickMs;
  const switching = createSwitching({ links, clock, log: silentLog, decisionMaxAgeMs });
  rig.start();
  for (const { plan } of links) switching.linkUp(plan.clientId);

  return {
    rig,
    table,
    calendar,
    wallMs,
    isLinked: () => isLinked,
    imbalance: shed.imbalance,
    energiesWh: shed.energiesWh,
    beginStep(atMs: number, share: number): void {
      active = drawn.troubles.filter((one) => share >= one.from && share < one.from + one.for);
      jumpMs = isActive("clock") ? sizeOf("clock") * 30 * HOUR_MS : 0;
      const wasLinked = isLinked;
      isLinked = !isActive("broker");
      if (wasLinked && !isLinked) {
        table.cut();
        for (const { plan } of links) switching.linkDown(plan.clientId);
      }
      if (!wasLinked && isLinked) for (const { plan } of links) switching.linkUp(plan.clientId);
      const late = held.splice(0);
      rig.publish();
      // What was held back comes after what is newer: an order that no publisher intends.
      for (const message of late) table.receive({ ...message, isRetained: false });
      clock.advanceTo(atMs);
    },
    /** @returns A load was fed through an open panel meanwhile. */
    obey(decision: Decision): boolean {
      wasFedLate = false;
      switching.apply(decision);
      return wasFedLate;
    },
  };
}

/** The plant under made-up weather, and its book of energy. */
function createBookedShed(
  site: SiteSettings,
  drawn: ShedCase,
  calendar: ReturnType<typeof createLocalCalendar>,
) {
  const settings = plantSettings(site);
  const { date: localDate, sky: kind, seed, fromHour, startFraction } = drawn;
  const nextDate = new Date(Date.parse(`${localDate}T00:00:00Z`) + 86_400_000);
  const days = [localDate, nextDate.toISOString().slice(0, 10)];
  const feeds = days.map((day) =>
    dayFeed(syntheticDay({ site, localDate: day, seed, kind }), {
      plant: settings,
      sitePlace: site.control,
      mayBridge: false,
    }),
  );
  const startWallMs = (feeds[0]?.timesMs[0] ?? 0) + fromHour * HOUR_MS;
  const plant = createPlant(settings, startFraction);
  const input = emptyInput(settings);
  const energiesWh = site.control.loads.map(() => 0);
  let elapsedMs = 0;
  let imbalance = 0;
  const book = (dtMs: number, beforeWh: number): void => {
    const { truth } = plant;
    const hours = dtMs / HOUR_MS;
    const inWh = (truth.deliveredW + truth.generatorW) * hours;
    const outWh = (truth.inverterAcW + truth.inverterLossW + truth.batteryLossW) * hours;
    const scaleWh = Math.max(inWh, outWh, plant.storedWh() * 1e-4, 1e-3);
    const off = Math.abs(inWh - outWh - (plant.storedWh() - beforeWh)) / scaleWh;
    imbalance = Math.max(imbalance, off);
    for (const index of energiesWh.keys()) {
      energiesWh[index] = (energiesWh[index] ?? 0) + (truth.loadPowerW[index] ?? 0) * hours;
    }
  };
  const bare = createPlantSide({
    control: site.control,
    plant,
    inputFor: (_dtMs, positions) => {
      const wallMs = startWallMs + elapsedMs;
      const feed = feeds.find((one) => wallMs < one.endMs) ?? feeds.at(-1);
      if (feed !== undefined) {
        fillInput(feed, Math.floor((wallMs - (feed.timesMs[0] ?? 0)) / MINUTE_MS), input);
      }
      input.localMinute = calendar(wallMs).localMinute;
      input.loadStages = positions.loadStages;
      input.loadPowersW = positions.loadPowersW;
      input.panelsClosed = positions.panelsClosed;
      return input;
    },
  });
  const plantSide: PlantSide = {
    read: bare.read,
    advance(dtMs, positions) {
      const beforeWh = plant.storedWh();
      bare.advance(dtMs, positions);
      if (dtMs > 0) book(dtMs, beforeWh);
      elapsedMs += dtMs;
    },
  };
  return { startWallMs, plantSide, imbalance: () => imbalance, energiesWh: () => energiesWh };
}
