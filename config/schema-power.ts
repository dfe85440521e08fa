/** Schema of battery, sources, rule curve and balance: what the makers' data sheets say. */
import { z } from "zod";
import { idField, quantity, quantityOptional, quantityOr } from "./fields.ts";

const DAY_MS = 86_400_000;

const volts = (about: string, otherwise: string) =>
  quantityOptional({
    dimension: "voltage",
    about,
    min: 1,
    max: 1000,
    audience: "advanced",
    otherwise,
  });

const currentLimit = (about: string) =>
  quantityOptional({
    dimension: "current",
    about: `${about}; what the battery itself reports can lower it`,
    min: 1,
    max: 5000,
    otherwise: "none stated",
  });

const voltageModeSchema = z
  .strictObject({
    start: quantity({
      dimension: "voltage",
      about: "Loads may start when the battery at rest would be at least here",
      min: 1,
      max: 1000,
    }),
    stop: quantity({
      dimension: "voltage",
      about: "Loads stop when the battery at rest would be under this",
      min: 1,
      max: 1000,
    }),
  })
  .optional()
  .meta({
    description: "Thresholds to fall back on when no state of charge can be had",
    audience: "advanced",
  });

export const batterySchema = z
  .strictObject({
    chemistry: z.enum(["lfp", "flooded", "agm", "gel"]).meta({
      description: "lfp: lithium iron phosphate; the others are lead-acid",
      audience: "basic",
    }),
    capacity: quantity({
      dimension: "charge",
      about: "Capacity at the rated hours",
      min: 1,
      max: 100_000,
    }),
    nominalVoltage: quantity({
      dimension: "voltage",
      about: "Nominal voltage of the whole battery; says how many cells are in series",
      min: 6,
      max: 1000,
    }),
    ratedOver: quantityOptional({
      dimension: "duration",
      about: "Hours over which the capacity is rated",
      min: 1_800_000,
      max: 240 * 3_600_000,
      audience: "advanced",
      otherwise: "20 h; LFP 5 h",
    }),
    peukert: z.number().min(1).max(1.6).optional().meta({
      description: "Peukert exponent",
      otherwise: "by chemistry; LFP 1",
      audience: "advanced",
    }),
    chargeEfficiency: quantityOptional({
      dimension: "fraction",
      about: "Share of the charging current that is stored",
      min: 0.5,
      max: 1,
      audience: "advanced",
      otherwise: "by chemistry",
    }),
    floor: quantity({
      dimension: "fraction",
      about: "Hard reserve: never spent on opportunity loads",
      min: 0,
      max: 0.99,
    }),
    floorMargin: quantityOr("1 %", {
      dimension: "fraction",
      about: "Opportunity loads are off at once this far below the floor",
      min: 0,
      max: 0.2,
      audience: "advanced",
    }),
    sunsetTarget: quantity({
      dimension: "fraction",
      about: "State of charge wanted at sunset",
      min: 0.01,
      max: 1,
    }),
    reserveNights: z.number().min(0).max(14).default(0).meta({
      description: "Nights of everyday use to keep above the floor; with ruleCurve.mode outlook",
      audience: "advanced",
    }),
    absorptionVoltage: volts("Absorption set-point at 25 °C", "by chemistry"),
    floatVoltage: volts("Float set-point at 25 °C", "by chemistry"),
    compensation: quantityOptional({
      dimension: "voltage",
      about: "Change of both set-points for each K and each cell; 0 V for LFP",
      min: -0.01,
      max: 0,
      audience: "advanced",
      otherwise: "−4 mV; LFP 0",
    }),
    tailCurrent: quantityOptional({
      dimension: "current",
      about: "At the set-point and below this current the battery is full",
      min: 0.1,
      max: 10_000,
      audience: "advanced",
      otherwise: "by chemistry, 1 to 5 % of the capacity for each hour",
    }),
    fullAfter: quantityOptional({
      dimension: "duration",
      about: "How long the tail current must have lasted",
      min: 0,
      max: DAY_MS,
      audience: "advanced",
      otherwise: "10 min; LFP 3 min",
    }),
    lowVoltage: volts("Opportunity loads are off at once below this", "by chemistry"),
    highVoltage: volts("New starts are held above this", "by chemistry"),
    resistance: quantityOptional({
      dimension: "resistance",
      about: "Internal resistance of the whole battery with its cables",
      min: 0,
      max: 10,
      audience: "advanced",
      otherwise: "by chemistry and capacity",
    }),
    voltageMode: voltageModeSchema,
    socDisagreement: quantityOr("10 %", {
      dimension: "fraction",
      about: "Monitor and own count may differ by this before the lower one is used",
      min: 0.01,
      max: 0.5,
      audience: "advanced",
    }),
    socFollowsOver: quantityOr("3 %", {
      dimension: "fraction",
      about: "Over this share of the capacity the monitor must follow the current by half",
      min: 0.01,
      max: 0.5,
      audience: "advanced",
    }),
    fullChargeEvery: quantityOptional({
      dimension: "duration",
      about: "Time within which a full charge must complete",
      min: DAY_MS,
      max: 365 * DAY_MS,
      audience: "advanced",
      otherwise: "7 d; LFP 30 d",
    }),
    chargeLimit: currentLimit("Greatest charging current that the maker allows"),
    dischargeLimit: currentLimit("Greatest discharge current that the maker allows"),
    tolerance: quantityOptional({
      dimension: "power",
      about: "Discharge up to this is noise or meter error, not a spent reserve",
      min: 0,
      max: 5000,
      audience: "advanced",
      otherwise: "1 % of the inverter's rating, at least 50 W",
    }),
  })
  .meta({ description: "The battery" });

export const arraySchema = z
  .strictObject({
    id: idField("Name of the array", "roof"),
    peak: quantity({
      dimension: "power",
      about: "Power at standard test conditions",
      min: 1,
      max: 1_000_000,
    }),
    tilt: quantity({ dimension: "angle", about: "From the horizontal", min: 0, max: 90 }),
    azimuth: quantity({
      dimension: "angle",
      about: "Clockwise from north: 90 east, 180 south, 270 west",
      min: 0,
      max: 360,
    }),
    currentLimit: quantityOptional({
      dimension: "current",
      about: "Output current limit of the array's charge controller",
      min: 1,
      max: 2000,
      otherwise: "none known",
    }),
  })
  .meta({ description: "A photovoltaic array" });

export const steadySourceSchema = z
  .strictObject({
    id: idField("Name of the source", "creek"),
    peak: quantity({ dimension: "power", about: "Greatest power", min: 1, max: 1_000_000 }),
    dumpVoltage: quantityOptional({
      dimension: "voltage",
      about: "Set-point of its own dump; only compared with the thresholds of the loads",
      min: 1,
      max: 1000,
      audience: "advanced",
      otherwise: "not compared",
    }),
  })
  .meta({ description: "A source that runs day and night and has a dump of its own" });

export const ruleCurveSchema = z
  .strictObject({
    mode: z.enum(["fixed", "outlook"]).meta({
      description:
        "fixed: the same state of charge at every hour; outlook: by day as low as the sun that " +
        "is still to come allows",
      audience: "basic",
    }),
    at: quantityOptional({
      dimension: "fraction",
      about:
        "State of charge that the battery must have before loads may run; with mode outlook only " +
        "until there is an outlook",
      min: 0.01,
      max: 1,
      otherwise: "with mode outlook 2 % above battery.sunsetTarget",
    }),
    caution: quantityOr("90 %", {
      dimension: "fraction",
      about: "Share of days that are to turn out no worse than the outlook counts with",
      min: 0.5,
      max: 0.98,
      audience: "advanced",
    }),
  })
  .meta({ description: "Charge above the rule curve may be spent" });

/** Tolerance, share and time are those that the service watches with unless told otherwise. */
export const balanceSchema = z
  .strictObject({
    mode: z.enum(["watch", "ignore"]).optional().meta({
      description: "watch: no load runs while the measured powers contradict one another",
      default: "watch where sources, battery and inverter are all measured, else ignore",
      audience: "basic",
    }),
    tolerance: quantityOr("150 W", {
      dimension: "power",
      about: "This much may be missing between them…",
      min: 10,
      max: 100_000,
      audience: "advanced",
    }),
    share: quantityOr("10 %", {
      dimension: "fraction",
      about: "…or this share of the largest of them, if that is more…",
      min: 0.01,
      max: 0.5,
      audience: "advanced",
    }),
    for: quantityOr("3 min", {
      dimension: "duration",
      about: "…for this long",
      min: 10_000,
      max: 3_600_000,
      audience: "advanced",
    }),
  })
  .prefault({})
  .meta({ description: "Whether what is measured of sources, battery and loads adds up" });
