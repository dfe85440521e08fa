/**
 * Schema of the settings file: every key that the service acts upon, and no other. A key that were
 * accepted and ignored would be a promise that nobody keeps.
 */
import { z } from "zod";
import { idField, portField, quantityOr, text, timeZoneField } from "./fields.ts";
import { brokerSchema } from "./schema-broker.ts";
import { applianceSchema } from "./schema-guidance.ts";
import { historySchema } from "./schema-history.ts";
import { inverterSchema } from "./schema-inverter.ts";
import { loadSchema } from "./schema-loads.ts";
import { panelSchema } from "./schema-panels.ts";
import { arraySchema, balanceSchema, batterySchema } from "./schema-power.ts";
import { ruleCurveSchema, steadySourceSchema } from "./schema-power.ts";
import { irradianceSensorSchema } from "./schema-sensor.ts";
import { signalSchema } from "./schema-signals.ts";

const siteSchema = z
  .strictObject({
    id: idField("Name of the site; part of every topic that the service publishes", "malga"),
    label: text("What people call it").optional().meta({
      description: "What people call it",
      default: "the id",
      audience: "basic",
    }),
    latitude: z.number().min(-90).max(90).meta({
      description: "Degrees, north positive",
      audience: "basic",
    }),
    longitude: z.number().min(-180).max(180).meta({
      description: "Degrees, east positive",
      audience: "basic",
    }),
    elevation: quantityOr("0 m", {
      dimension: "length",
      about: "Height above the sea",
      min: -500,
      max: 6000,
    }),
    timeZone: timeZoneField("IANA time zone; windows and quotas follow its clock"),
    tick: quantityOr("2 s", {
      dimension: "duration",
      about: "How often the service decides",
      min: 1000,
      max: 60_000,
      audience: "advanced",
    }),
  })
  .meta({ description: "Where the site is" });

const webSchema = z
  .strictObject({
    host: z.string().min(1).default("127.0.0.1").meta({
      description: "Address that the web server listens on",
      audience: "basic",
    }),
    port: portField("Port that the web server listens on", 8470),
    tokenFile: z.string().min(1).optional().meta({
      description: "Holds the token that writing needs; made at the first start",
      default: "<site id>.token beside the settings file",
      audience: "advanced",
    }),
    editing: z.boolean().default(false).meta({
      description: "Whether the settings may be changed on the page, by whoever has signed in",
      audience: "advanced",
    }),
    reading: z.enum(["token", "open"]).default("token").meta({
      description: "Who may read from other machines: holders of the token, or anyone",
      audience: "advanced",
    }),
  })
  .prefault({})
  .meta({ description: "Web page and HTTP interface" });

/** `array.roof.power`, `battery.soc`: a name of the dictionary with the source's id filled in. */
const SIGNAL_NAME = "^[a-z]+(\\.[a-z][a-z0-9-]*)?\\.[a-zA-Z]+$";

export const settingsSchema = z
  .strictObject({
    version: z.literal(1).meta({ description: "Version of this file's form" }),
    site: siteSchema,
    broker: brokerSchema,
    web: webSchema,
    history: historySchema,
    battery: batterySchema,
    arrays: z.array(arraySchema).max(50).default([]).meta({ description: "Arrays" }),
    hydro: z.array(steadySourceSchema).max(20).default([]).meta({ description: "Turbines" }),
    wind: z.array(steadySourceSchema).max(20).default([]).meta({ description: "Wind turbines" }),
    irradianceSensor: irradianceSensorSchema,
    inverter: inverterSchema,
    ruleCurve: ruleCurveSchema,
    balance: balanceSchema,
    telemetry: z
      .record(z.string().meta({ pattern: SIGNAL_NAME }), signalSchema)
      .meta({ description: "Where each signal of battery, sources and inverter arrives" }),
    panels: z.array(panelSchema).max(20).default([]).meta({ description: "Surplus panels" }),
    loads: z.array(loadSchema).max(100).meta({ description: "Opportunity loads" }),
    guidance: z.array(applianceSchema).max(20).default([]).meta({
      description: "Appliances that people start themselves, for which good times are told",
    }),
    stagger: quantityOr("30 s", {
      dimension: "duration",
      about: "Time between two starts, and between two stops that are not urgent",
      min: 1000,
      max: 3_600_000,
      audience: "advanced",
    }),
  })
  .meta({ title: "Settings of a Bywash site" });

export type SettingsFile = z.output<typeof settingsSchema>;
export type SiteSection = SettingsFile["site"];
export type WebSection = SettingsFile["web"];
export type BatterySection = SettingsFile["battery"];
export type IrradianceSensorSection = SettingsFile["irradianceSensor"];
export type ArraySection = SettingsFile["arrays"][number];
export type SteadySection = SettingsFile["hydro"][number];
export type InverterSection = SettingsFile["inverter"];
export type RuleCurveSection = SettingsFile["ruleCurve"];
export type BalanceSection = SettingsFile["balance"];
export type PanelSection = SettingsFile["panels"][number];
export type LoadSection = SettingsFile["loads"][number];
export type PumpSection = NonNullable<Exclude<LoadSection, { readonly kind: "sockets" }>["pump"]>;
export type SignalSection = SettingsFile["telemetry"][string];
