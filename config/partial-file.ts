/**
 * A settings file as far as it can be read: each section and each list entry on its own, so that
 * the cross checks also run over a file of which one part is wrong.
 */
import type { z } from "zod";
import { givenNames } from "./given-names.ts";
import type { GivenNames } from "./given-names.ts";
import { valueAt } from "./schema-issues.ts";
import type { BrokerSection } from "./schema-broker.ts";
import type { ApplianceSection } from "./schema-guidance.ts";
import { settingsSchema } from "./schema.ts";
import type { ArraySection, BalanceSection, BatterySection } from "./schema.ts";
import type { InverterSection, IrradianceSensorSection } from "./schema.ts";
import type { LoadSection, PanelSection, RuleCurveSection, SignalSection } from "./schema.ts";
import type { SiteSection, SteadySection, WebSection } from "./schema.ts";

/** `undefined` stands for what could not be read; its place in a list is kept. */
export interface PartialFile {
  readonly site: SiteSection | undefined;
  readonly broker: BrokerSection | undefined;
  readonly web: WebSection | undefined;
  readonly battery: BatterySection | undefined;
  readonly inverter: InverterSection | undefined;
  readonly ruleCurve: RuleCurveSection | undefined;
  readonly balance: BalanceSection | undefined;
  readonly arrays: readonly (ArraySection | undefined)[];
  readonly irradianceSensor: IrradianceSensorSection | undefined;
  readonly hydro: readonly (SteadySection | undefined)[];
  readonly wind: readonly (SteadySection | undefined)[];
  readonly panels: readonly (PanelSection | undefined)[];
  readonly loads: readonly (LoadSection | undefined)[];
  readonly guidance: readonly (ApplianceSection | undefined)[];
  readonly telemetry: ReadonlyMap<string, SignalSection | undefined>;
  /** False: there is none that could be read, and what it maps is not known. */
  readonly isTelemetryRead: boolean;
  /** What may be referred to, whether or not the rest of it can be read. */
  readonly names: {
    readonly arrays: GivenNames;
    readonly hydro: GivenNames;
    readonly wind: GivenNames;
    readonly panels: GivenNames;
    readonly legs: GivenNames;
  };
  readonly staggerMs: number | undefined;
}

export function readPartially(raw: unknown): PartialFile {
  const { shape } = settingsSchema;
  const at = (key: string): unknown => valueAt(raw, [key]);
  return {
    site: read(shape.site, at("site")),
    broker: read(shape.broker, at("broker")),
    web: read(shape.web, at("web")),
    battery: read(shape.battery, at("battery")),
    inverter: read(shape.inverter, at("inverter")),
    ruleCurve: read(shape.ruleCurve, at("ruleCurve")),
    balance: read(shape.balance, at("balance")),
    arrays: readEntries(shape.arrays.unwrap().element, at("arrays")),
    irradianceSensor: read(shape.irradianceSensor, at("irradianceSensor")),
    hydro: readEntries(shape.hydro.unwrap().element, at("hydro")),
    wind: readEntries(shape.wind.unwrap().element, at("wind")),
    panels: readEntries(shape.panels.unwrap().element, at("panels")),
    loads: readEntries(shape.loads.element, at("loads")),
    guidance: readEntries(shape.guidance.unwrap().element, at("guidance")),
    telemetry: readMap(shape.telemetry.valueType, at("telemetry")),
    isTelemetryRead: isMap(at("telemetry")),
    names: readNames(raw),
    staggerMs: read(shape.stagger, at("stagger")),
  };
}

function readNames(raw: unknown): PartialFile["names"] {
  const { shape } = settingsSchema;
  const named = (list: string): GivenNames => givenNames(raw, [list], Object.keys(shape));
  return {
    arrays: named("arrays"),
    hydro: named("hydro"),
    wind: named("wind"),
    panels: named("panels"),
    legs: givenNames(raw, ["inverter", "legs"], Object.keys(shape.inverter.shape)),
  };
}

function read<S extends z.ZodType>(schema: S, raw: unknown): z.output<S> | undefined {
  const result = schema.safeParse(raw);
  return result.success ? result.data : undefined;
}

function readEntries<S extends z.ZodType>(
  schema: S,
  raw: unknown,
): readonly (z.output<S> | undefined)[] {
  return Array.isArray(raw) ? raw.map((entry: unknown) => read(schema, entry)) : [];
}

function readMap<S extends z.ZodType>(
  schema: S,
  raw: unknown,
): ReadonlyMap<string, z.output<S> | undefined> {
  const entries: readonly [string, unknown][] = isMap(raw) ? Object.entries(raw) : [];
  return new Map(entries.map(([key, value]) => [key, read(schema, value)]));
}

function isMap(raw: unknown): raw is object {
  return typeof raw === "object" && raw !== null && !Array.isArray(raw);
}
