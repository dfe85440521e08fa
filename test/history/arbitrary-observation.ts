/** Observations as hostile as the type allows: signs on zeros, huge, tiny, every quality. */
import fc from "fast-check";
import type { HumanRequest, Observation, Quality } from "../../service/control/observation.ts";

const QUALITIES: Quality[] = ["fresh", "stale", "implausible", "waiting", "retained", "unmapped"];
const REQUESTS: HumanRequest[] = ["none", "clear"];

const number = fc.oneof(
  fc.double({ noNaN: true }),
  fc.integer({ min: -100_000, max: 100_000 }).map((whole) => whole / 100),
  fc.integer({ min: 0, max: 10_000 }).map((whole) => (whole / 100) * 0.01),
  fc.constantFrom(0, -0, 1e-323, Number.MAX_SAFE_INTEGER, -Number.MAX_SAFE_INTEGER, 5e15, 2 ** 52),
);

function reading<T>(value: fc.Arbitrary<T>) {
  return fc.record({ value, quality: fc.constantFrom(...QUALITIES), ageMs: number }, fixed);
}
const fixed = { noNullPrototype: true } as const;
const numeric = reading(number);
const truth = reading(fc.boolean());
const stage = reading(fc.constantFrom("bulk" as const, "absorption", "float", "equalise"));
const request = fc.constantFrom(...REQUESTS);

const battery = fc.record(
  {
    socFraction: numeric,
    voltageV: numeric,
    currentA: numeric,
    temperatureC: numeric,
    chargeStage: stage,
    isChargeBlocked: truth,
    isDischargeBlocked: truth,
    chargeLimitA: numeric,
    dischargeLimitA: numeric,
  },
  fixed,
);
const source = fc.record({ powerW: numeric, dumpPowerW: numeric, chargeStage: stage }, fixed);
const inverter = fc.record(
  {
    powerW: numeric,
    temperatureC: numeric,
    acVoltageV: numeric,
    frequencyHz: numeric,
    isFaulty: truth,
    legPowersW: fc.array(numeric, { maxLength: 3 }),
  },
  fixed,
);
const load = fc.record(
  {
    reportedStage: numeric,
    powerW: numeric,
    isByHand: truth,
    tankTemperatureC: numeric,
    flowLPerMin: numeric,
    isSourceLow: truth,
    levelFraction: numeric,
    pipeTemperatureC: numeric,
    isPressed: truth,
    request,
    requestForMs: number,
  },
  fixed,
);
const panel = fc.record({ isClosed: truth, powerW: numeric, request }, fixed);

export const arbitraryObservation: fc.Arbitrary<Observation> = fc.record(
  {
    monotonicMs: number,
    wallMs: number,
    isWallClockPlausible: fc.boolean(),
    localDay: fc.integer({ min: 20_600, max: 20_602 }),
    localMinute: fc.integer({ min: 0, max: 1439 }),
    clockChangeMs: fc.constantFrom(0, 1_793_494_800_000),
    clockShiftMin: fc.constantFrom(0, 60, -60),
    isBrokerConnected: fc.boolean(),
    battery,
    sources: fc.array(source, { maxLength: 2 }),
    inverter,
    isGeneratorRunning: truth,
    generatorPowerW: numeric,
    dcLoadsPowerW: numeric,
    forecast: fc.record({ todayWh: numeric, tomorrowWh: numeric }, fixed),
    irradianceWm2: numeric,
    unlearn: fc.constantFrom("none", "base", "sky", "array.roof", "load.heater"),
    loads: fc.array(load, { maxLength: 2 }),
    panels: fc.array(panel, { maxLength: 2 }),
  },
  fixed,
);
