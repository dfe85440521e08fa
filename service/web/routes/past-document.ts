/** The history's answers as schemas: the same keys as `past-desk.ts`. */
import { z } from "zod";
import type { RouteDocument } from "../route-document.ts";

const energyWh = z.number();
const fraction = z.number().nullable();

const loadFiguresSchema = z.object({
  energyWh,
  starts: z.int().min(0),
  shortestRunMin: z.number().nullable(),
  shortestRestMin: z.number().nullable(),
});

const figures = {
  coveredFraction: z
    .number()
    .min(0)
    .max(1)
    .meta({ description: "share of the day's minutes that was recorded" }),
  pvWh: energyWh,
  sourcesWh: energyWh,
  potentialWh: energyWh
    .nullable()
    .meta({ description: "with what was held back; null: not known" }),
  curtailedWh: energyWh.nullable(),
  curtailedMin: z.number(),
  usedWh: energyWh,
  baseWh: energyWh,
  divertedWh: energyWh,
  askedWh: energyWh.meta({ description: "while a person had asked for it [Wh]" }),
  reserveDrawnWh: energyWh,
  generatorWh: energyWh,
  chargedWh: energyWh,
  dischargedWh: energyWh,
  lowestSocFraction: fraction,
  sunsetSocFraction: fraction,
  endSocFraction: fraction,
  starts: z.int().min(0),
  loads: z.record(z.string(), loadFiguresSchema),
};

const daysSchema = z.object({
  formatVersion: z.literal(1),
  days: z.array(z.object({ date: z.iso.date(), isOver: z.boolean(), ...figures })),
  before: z.iso.date().nullable().meta({ description: "ask for those before; null: no more" }),
});

const column = z.array(z.number().nullable());

const daySchema = z.object({
  formatVersion: z.literal(1),
  date: z.iso.date(),
  from: z.iso.datetime(),
  to: z.iso.datetime(),
  isOver: z.boolean(),
  figures: z.object(figures).nullable(),
  minutes: z.array(z.int()).meta({
    description: "minutes after `from` that were recorded; every column has a value for each",
  }),
  sourcesPowerW: column,
  pvPowerW: column,
  potentialW: column.meta({ description: "estimate of the service; null: not known" }),
  curtailedFraction: column,
  batteryPowerW: column.meta({ description: "positive: charging" }),
  socFraction: column,
  ruleCurveFraction: column,
  chargeStages: z.array(z.string().nullable()),
  usedPowerW: column,
  basePowerW: column,
  generatorPowerW: column,
  loads: z.record(
    z.string(),
    z.object({
      label: z.string(),
      powerW: column,
      tankTemperatureC: column.nullable(),
      asked: z
        .array(z.enum(["run", "hold"]).nullable())
        .meta({ description: "what a person had asked for, where that decided" }),
    }),
  ),
});

const eventsSchema = z.object({
  formatVersion: z.literal(1),
  events: z.array(
    z.object({
      number: z.int(),
      at: z.iso.datetime(),
      about: z.string(),
      id: z.string(),
      label: z.string(),
      change: z.string(),
      code: z.string(),
      severity: z.enum(["info", "warning", "alarm"]).nullable(),
      sentence: z.string().nullable(),
    }),
  ),
  before: z.int().nullable().meta({ description: "ask for those before; null: no more" }),
});

const limit = "how many at most";

export const PAST_DOCUMENTS: readonly RouteDocument[] = [
  {
    method: "GET",
    path: "/api/days",
    summary: "What each recorded day came to, the newest first",
    query: { before: "a local date: only days before it", limit },
    answer: {
      status: 200,
      description: "Energies, starts and the state of charge of each day",
      mediaType: "application/json",
      schema: { name: "Days", schema: daysSchema },
    },
    problems: ["no-history"],
    security: "reading",
  },
  {
    method: "GET",
    path: "/api/days/{date}",
    summary: "One local day, minute by minute",
    query: {},
    answer: {
      status: 200,
      description: "Columns with one value for each recorded minute",
      mediaType: "application/json",
      schema: { name: "Day", schema: daySchema },
    },
    problems: ["no-history", "unknown-id"],
    security: "reading",
  },
  {
    method: "GET",
    path: "/api/events",
    summary: "Events, the newest first",
    query: {
      from: "RFC 3339: not before",
      to: "RFC 3339: before",
      load: "id of a load",
      code: "one code, or several with commas between",
      text: "part of an id, a code or a sentence",
      before: "number of an event: only those before it",
      limit,
    },
    answer: {
      status: 200,
      description: "What happened, with its reason",
      mediaType: "application/json",
      schema: { name: "Events", schema: eventsSchema },
    },
    problems: ["no-history"],
    security: "reading",
  },
];
