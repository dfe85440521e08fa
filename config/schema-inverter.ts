/** Schema of the inverter and its legs. */
import { z } from "zod";
import { idField, quantity, quantityOptional, quantityOr } from "./fields.ts";

const deratingSchema = z
  .strictObject({
    above: quantity({
      dimension: "temperature",
      about: "Its full rating holds up to here",
      min: 0,
      max: 100,
    }),
    perK: quantity({
      dimension: "fraction",
      about: "Share of its ratings that it loses for each K above",
      min: 0.001,
      max: 0.2,
    }),
  })
  .meta({ description: "Loss of rating with temperature, from the maker's curve" });

/** 1 % for each 100 m above 1000 m: common practice, no source; the maker's figure wins. */
const altitudeSchema = z
  .strictObject({
    above: quantityOr("1000 m", {
      dimension: "length",
      about: "Its full rating holds up to here",
      min: 0,
      max: 5000,
      audience: "advanced",
    }),
    per100m: quantityOr("1 %", {
      dimension: "fraction",
      about: "Share of its ratings that it loses for each 100 m above",
      min: 0.001,
      max: 0.015,
      audience: "advanced",
    }),
  })
  .meta({ description: "Loss of rating in thin air" });

const legSchema = z
  .strictObject({
    id: idField("Name of the leg, as in telemetry leg.<id>.power", "l1"),
    continuous: quantity({
      dimension: "apparentPower",
      about: "What this leg carries for hours",
      min: 50,
      max: 200_000,
    }),
  })
  .meta({ description: "One phase conductor" });

export const inverterSchema = z
  .strictObject({
    continuous: quantity({
      dimension: "power",
      about: "Continuous rating; at the place's own altitude unless altitudeDerating says more",
      min: 50,
      max: 500_000,
    }),
    apparentPower: quantityOptional({
      dimension: "apparentPower",
      about: "Continuous rating in VA, which motors use up before the W",
      min: 50,
      max: 500_000,
      otherwise: "the same number as continuous",
    }),
    surge: quantity({
      dimension: "apparentPower",
      about: "What it carries for a second or two",
      min: 50,
      max: 2_000_000,
    }),
    derating: deratingSchema.optional().meta({
      description: "What it loses with its own temperature; needs inverter.temperature",
      audience: "advanced",
    }),
    altitudeDerating: altitudeSchema.optional().meta({
      description: "What it loses in thin air; worked out once, from site.elevation",
      audience: "advanced",
    }),
    legs: z.array(legSchema).max(3).default([]).meta({
      description: "Legs of a split-phase or three-phase inverter; none: one leg",
      audience: "advanced",
    }),
    idle: quantityOr("30 W", {
      dimension: "power",
      about: "Own use with no load",
      min: 0,
      max: 2000,
    }),
    efficiency: quantityOr("92 %", {
      dimension: "fraction",
      about: "AC out over DC in, without the idle use",
      min: 0.5,
      max: 1,
    }),
    temperatureMax: quantityOptional({
      dimension: "temperature",
      about: "Opportunity loads are off at or above this",
      min: 20,
      max: 120,
      otherwise: "not watched",
    }),
    maxInput: quantityOptional({
      dimension: "voltage",
      about: "Greatest DC voltage that it takes; opportunity loads are off above it",
      min: 10,
      max: 1000,
      audience: "advanced",
      otherwise: "not watched",
    }),
    acVoltage: z
      .strictObject({
        min: quantity({ dimension: "voltage", about: "Lowest", min: 12, max: 500 }),
        max: quantity({ dimension: "voltage", about: "Highest", min: 12, max: 500 }),
      })
      .optional()
      .meta({ description: "Opportunity loads are off outside it", audience: "advanced" }),
    frequency: z
      .strictObject({
        min: quantity({ dimension: "frequency", about: "Lowest", min: 40, max: 70 }),
        max: quantity({ dimension: "frequency", about: "Highest", min: 40, max: 70 }),
      })
      .optional()
      .meta({ description: "Opportunity loads are off outside it", audience: "advanced" }),
  })
  .meta({ description: "The inverter that feeds the loads" });
