/**
 * Random sites of both examples' kinds (tanks, pumps with cisterns, sockets, loads of variable
 * power, lithium and lead-acid) through telemetry, core, switching and the simulated plant, with
 * messages lost, repeated, late or missing, noisy meters, clocks that jump and links that break.
 * BYWASH_PROPERTY_RUNS asks for more cases.
 */
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import type { CodeEntry } from "../../service/control/code-entry.ts";
import type { Reading } from "../../service/control/observation.ts";
import type { ControlSettings, LoadSettings } from "../../service/control/settings.ts";
import { VERDICT_CODES } from "../../service/control/verdict-codes.ts";
import { runShed, shedCases } from "./random-shed.ts";
import type { ShedRun, ShedTick } from "./random-shed.ts";

const SEED = 20261127;
const RUNS = Math.ceil(Number(process.env["BYWASH_PROPERTY_RUNS"] ?? 300) / 15);
const HOUR_MS = 3_600_000;

/** Each case is run once, and every rule is held against it. */
const seen = { starts: 0, runs: 0, hazards: 0, quotasMet: 0 };

const isUnder = ({ value, quality }: Reading, limit: number): boolean =>
  quality === "fresh" && value < limit;
const isOver = ({ value, quality }: Reading, limit: number): boolean =>
  quality === "fresh" && value >= limit;

/** What a person who reads the meters would switch everything off for. */
function siteHazard({ observation }: ShedTick, { battery, inverter }: ControlSettings): boolean {
  const { voltageV, currentA, isDischargeBlocked } = observation.battery;
  const { temperatureC, isFaulty } = observation.inverter;
  return (
    !observation.isBrokerConnected ||
    isUnder(voltageV, battery.lowVoltageV) ||
    voltageV.quality !== "fresh" ||
    currentA.quality !== "fresh" ||
    (isFaulty.quality === "fresh" && isFaulty.value) ||
    (isDischargeBlocked.quality === "fresh" && isDischargeBlocked.value) ||
    (inverter.temperatureMaxC !== null && isOver(temperatureC, inverter.temperatureMaxC))
  );
}

function loadHazard({ observation }: ShedTick, index: number, load: LoadSettings): boolean {
  const told = observation.loads[index];
  if (told === undefined) return false;
  const { tank, pump } = load;
  const isTank =
    tank !== null &&
    (told.tankTemperatureC.quality !== "fresh" || isOver(told.tankTemperatureC, tank.limitC));
  const isPump =
    pump !== null &&
    ((pump.hasSourceContact && (told.isSourceLow.quality !== "fresh" || told.isSourceLow.value)) ||
      (pump.level !== null && told.levelFraction.quality !== "fresh"));
  return isTank || isPump;
}

function checkHazards({ site, ticks }: ShedRun): void {
  const { control } = site;
  for (const tick of ticks) {
    const isSiteHeld = siteHazard(tick, control);
    for (const [index, load] of control.loads.entries()) {
      if (!isSiteHeld && !loadHazard(tick, index, load)) continue;
      seen.hazards += 1;
      expect(tick.decision.loadStages[index], `${load.id} at ${String(tick.atMs)}`).toBe(0);
    }
  }
}

/** A contact does what was decided at once where its link is up; else it drops by its hold time. */
function checkContacts({ site, ticks }: ShedRun): void {
  const holdMs = Math.max(...site.actuators.map((actuator) => actuator.holdMs));
  let linkedAtMs = 0;
  for (const tick of ticks) {
    if (tick.isLinked) {
      linkedAtMs = tick.atMs;
      const decided = tick.decision.loadStages.map((stage) => stage > 0);
      expect(tick.contacts.map((stage) => stage > 0)).toEqual(decided);
      expect(tick.panelsClosed).toEqual(tick.decision.panelsClosed);
      expect(tick.wasFedLate).toBe(false);
    } else if (tick.atMs - linkedAtMs > holdMs + site.control.tickMs) {
      expect(Math.max(0, ...tick.contacts)).toBe(0);
      expect(tick.panelsClosed).not.toContain(true);
    }
  }
}

/** The scheduler's own wish, and not a reason that ends a run at once. */
function isWish(code: keyof typeof VERDICT_CODES): boolean {
  const entry: CodeEntry = VERDICT_CODES[code];
  return !entry.isInterlock && (code.startsWith("stopped-") || code.startsWith("waiting-"));
}

/** By the contacts, as the motor would count them. */
function checkRunsAndRests({ site, ticks }: ShedRun): void {
  for (const [index, load] of site.control.loads.entries()) {
    const startsAtMs: number[] = [];
    let stoppedAtMs = 0;
    let was = 0;
    for (const tick of ticks) {
      const is = tick.contacts[index] ?? 0;
      if (was === 0 && is > 0) {
        seen.starts += 1;
        expect(tick.atMs - stoppedAtMs).toBeGreaterThanOrEqual(load.minRestMs);
        startsAtMs.push(tick.atMs);
        const recent = startsAtMs.filter((startMs) => tick.atMs - startMs < HOUR_MS);
        if (load.startsPerHourMax !== null) {
          expect(recent.length).toBeLessThanOrEqual(load.startsPerHourMax);
        }
      }
      if (was > 0 && is === 0) {
        stoppedAtMs = tick.atMs;
        const ranMs = tick.atMs - (startsAtMs.at(-1) ?? 0);
        const code = tick.decision.verdicts[index]?.code ?? "running";
        if (tick.isLinked && ranMs < load.minRunMs)
          expect([code, isWish(code)]).toEqual([code, false]);
      }
      was = is;
    }
  }
}

function holdMs({ actuators }: ShedRun["site"], index: number): number {
  const own = actuators.find((one) => one.kind === "load" && one.index === index);
  return own?.holdMs ?? 0;
}

/** How often the links broke while the load's contact was closed. */
function lostWhileOn(ticks: readonly ShedTick[], index: number): number {
  return ticks.filter(({ isLinked, contacts }, at) => {
    const wasLinked = ticks[at - 1]?.isLinked ?? false;
    return wasLinked && !isLinked && (contacts[index] ?? 0) > 0;
  }).length;
}

/** Counted by the day that the service's own clock shows: each gives the whole quota once. */
function checkQuotas({ site, ticks, energiesWh }: ShedRun): void {
  const days = new Set(ticks.map(({ observation }) => observation.localDay)).size;
  const tickMs = site.control.tickMs;
  for (const [index, load] of site.control.loads.entries()) {
    const onMs = ticks.filter(({ contacts }) => (contacts[index] ?? 0) > 0).length * tickMs;
    // A load that no command reaches any more is off for the service, and on until its hold is over.
    const unseenMs = lostWhileOn(ticks, index) * holdMs(site, index);
    if (load.quotaRunMs !== null) {
      // Sockets stay on while their lamp says that they will go off, and while people finish.
      const { warnMs, finishGraceMs } = load.sockets ?? { warnMs: 0, finishGraceMs: 0 };
      const partingMs = warnMs + finishGraceMs;
      expect(onMs).toBeLessThanOrEqual(days * (load.quotaRunMs + partingMs + tickMs) + unseenMs);
      if (onMs >= load.quotaRunMs) seen.quotasMet += 1;
    }
    if (load.quotaEnergyWh !== null) {
      const largestW = load.modulating?.maxW ?? load.stagesW.at(-1) ?? 0;
      // Meters are up to 20 % wrong here, and a step may begin just under the quota.
      const mostWh = 1.25 * load.quotaEnergyWh + (largestW * tickMs) / HOUR_MS;
      const unseenWh = (largestW * unseenMs) / HOUR_MS;
      expect(energiesWh[index]).toBeLessThanOrEqual(days * mostWh + unseenWh);
    }
  }
}

describe(
  "a random shed through telemetry, core and switching",
  { timeout: 600_000 + 15_000 * RUNS },
  () => {
    it("is off in every visible danger, obeys, rests, keeps quotas, and its energy book closes", () => {
      fc.assert(
        fc.property(shedCases, (drawn) => {
          const run = runShed(drawn);
          seen.runs += 1;
          expect(run.imbalance).toBeLessThan(1e-6);
          checkHazards(run);
          checkContacts(run);
          checkRunsAndRests(run);
          checkQuotas(run);
        }),
        { seed: SEED, numRuns: RUNS, endOnFailure: true },
      );
      expect(seen.runs).toBeGreaterThanOrEqual(RUNS);
      expect(seen.starts).toBeGreaterThan(RUNS);
      expect(seen.hazards).toBeGreaterThan(RUNS);
      expect(seen.quotasMet).toBeGreaterThan(0);
    });
  },
);
