/**
 * Building blocks of the settings' schema. Each field carries its description, unit, range and
 * audience as metadata, from which the JSON Schema and the error texts derive.
 *
 * `.meta()` belongs to one schema instance and is lost by whatever is called after it, so it stands
 * last in every function here, and `.optional()` or `.prefault()` before it.
 */
import { z } from "zod";
import { exampleOf, formatQuantity, parseQuantity, unitSymbols } from "./quantities.ts";
import type { Dimension } from "./units.ts";
import { nearestWord } from "./suggestions.ts";
import { isTopicFilter } from "./topic-filters.ts";

/** Who needs the key: everybody, or somebody with the maker's data sheet in hand. */
export type Audience = "basic" | "advanced";

interface QuantityField {
  readonly dimension: Dimension;
  readonly about: string;
  /** SI, included. */
  readonly min: number;
  readonly max: number;
  readonly audience?: Audience;
  /** What the service uses when the key is absent and the default depends on other keys. */
  readonly otherwise?: string;
}

export function quantity(field: QuantityField) {
  return bare(field).meta(quantityMeta(field));
}

export function quantityOptional(field: QuantityField) {
  return bare(field).optional().meta(quantityMeta(field));
}

/** @param written - The default, as a person would write it. */
export function quantityOr(written: string, field: QuantityField) {
  return bare(field)
    .prefault(written)
    .meta({ ...quantityMeta(field), default: written });
}

function bare(field: QuantityField) {
  return z.union([z.string(), z.number()]).transform((written, context) => {
    const parsed = parseQuantity(written, field.dimension);
    if (!parsed.ok) {
      const { problem } = parsed;
      context.issues.push(refusal(written, problem));
      return z.NEVER;
    }
    if (parsed.value < field.min || parsed.value > field.max) {
      context.issues.push(refusal(written, { code: "out-of-range", expected: rangeText(field) }));
      return z.NEVER;
    }
    return parsed.value;
  });
}

export interface Refusal {
  readonly code: string;
  readonly expected: string;
  readonly suggestion?: string;
}

function refusal(input: unknown, problem: Refusal) {
  return { code: "custom" as const, message: problem.expected, input, params: { ...problem } };
}

function rangeText(field: QuantityField): string {
  const { min, max, dimension } = field;
  return `${formatQuantity(min, dimension)} to ${formatQuantity(max, dimension)}`;
}

function quantityMeta(field: QuantityField) {
  return {
    description: field.about,
    unit: unitSymbols(field.dimension).join(", "),
    range: rangeText(field),
    examples: [exampleOf(field.dimension)],
    audience: field.audience ?? "basic",
    ...(field.otherwise === undefined ? {} : { otherwise: field.otherwise }),
  };
}

/** A running time or an energy of a local day; null: neither. */
function amountOf(written: string | number) {
  const duration = parseQuantity(written, "duration");
  if (duration.ok && duration.value > 0 && duration.value <= 86_400_000) {
    return { kind: "run" as const, runMs: duration.value };
  }
  const energy = parseQuantity(written, "energy");
  return energy.ok && energy.value > 0 ? { kind: "energy" as const, energyWh: energy.value } : null;
}

/** An amount for each local day: a running time or an energy, told apart by the unit. */
export function dailyAmount(about: string) {
  return z
    .union([z.string(), z.number()])
    .transform((written, context) => {
      const amount = amountOf(written);
      if (amount !== null) return amount;
      context.issues.push(
        refusal(written, {
          code: "wrong-unit",
          expected: "a running time up to 24 h, or an energy, for each day",
          suggestion: "90 min, or 3 kWh",
        }),
      );
      return z.NEVER;
    })
    .meta({ description: about, unit: "min, h, Wh, kWh", examples: ["90 min"], audience: "basic" });
}

/** What a load is to have reached: a temperature, a running time or an energy, by the unit. */
export function reachedAmount(about: string) {
  return z
    .union([z.string(), z.number()])
    .transform((written, context) => {
      const temperature = parseQuantity(written, "temperature");
      if (temperature.ok && temperature.value >= 5 && temperature.value <= 95) {
        return { kind: "temperature" as const, temperatureC: temperature.value };
      }
      const amount = amountOf(written);
      if (amount !== null) return amount;
      context.issues.push(
        refusal(written, {
          code: "wrong-unit",
          expected: "a temperature from 5 °C to 95 °C, a running time up to 24 h, or an energy",
          suggestion: "50 °C, 60 min, or 3 kWh",
        }),
      );
      return z.NEVER;
    })
    .meta({
      description: about,
      unit: "°C, min, h, Wh, kWh",
      examples: ["50 °C", "60 min"],
      audience: "basic",
    });
}

/** Least power or least flow of a pump that has water, told apart by the unit. */
export function powerOrFlow(about: string) {
  return z
    .union([z.string(), z.number()])
    .transform((written, context) => {
      const power = parseQuantity(written, "power");
      if (power.ok && power.value > 0) return { kind: "power" as const, powerW: power.value };
      const flow = parseQuantity(written, "flow");
      if (flow.ok && flow.value > 0) return { kind: "flow" as const, flowLPerMin: flow.value };
      context.issues.push(
        refusal(written, {
          code: "wrong-unit",
          expected: "a power of its meter, or a flow, above 0",
          suggestion: "400 W, or 5 L/min",
        }),
      );
      return z.NEVER;
    })
    .meta({ description: about, unit: "W, kW, L/min", examples: ["400 W"], audience: "basic" });
}

/** A text; numbers and `true` must be quoted, because YAML would change how they are spelled. */
export function text(about: string, audience: Audience = "basic") {
  return z.string().max(1000).meta({ description: about, audience });
}

export function isId(text: string): boolean {
  return /^[a-z][a-z0-9-]{0,39}$/u.test(text);
}

export function idField(about: string, example = "water-heater") {
  return checked(about, {
    isRight: isId,
    expected: "a short name of a-z, 0-9 and -, starting with a letter",
    suggest: (value) => value.toLowerCase().replace(/[^a-z0-9]+/gu, "-"),
    example,
  });
}

/** A topic to publish on or to listen to: no wildcards (MQTT 5, 4.7.1), no `$` (4.7.2). */
export function topicField(about: string) {
  return checked(about, {
    isRight: (value) => /^[^$#+\0][^#+\0]*$/u.test(value) && Buffer.byteLength(value) <= 65_535,
    expected: "an MQTT topic without wildcards (# or +) and not starting with $",
    suggest: () => undefined,
    example: "shed/battery",
  });
}

/** What a user of the built-in broker may say or hear; `$` (4.7.2) is the broker's own. */
export function filterField(about: string) {
  return checked(about, {
    isRight: (value) => isTopicFilter(value) && !value.startsWith("$"),
    expected: "a topic filter: + alone in a level, # alone in the last; not starting with $",
    suggest: () => undefined,
    example: "shed/+/set",
  });
}

export function portField(about: string, fallback: number) {
  return z
    .number()
    .int()
    .min(0)
    .max(65_535)
    .default(fallback)
    .meta({ description: `${about}; 0: any free one`, audience: "basic" });
}

export function pointerField(about: string) {
  return checked(about, {
    isRight: (value) => /^(\/([^~]|~0|~1)*)+$/u.test(value),
    expected: "a JSON pointer (RFC 6901) into the payload, starting with /",
    suggest: (value) => `/${value.replace(/^\$?\.?/u, "").replaceAll(".", "/")}`,
    example: "/ac/w",
  });
}

/** @returns Minutes after local midnight; `24:00` is 1440. */
export function timeOfDay(about: string) {
  return z
    .string()
    .transform((written, context) => {
      const match = /^(\d{1,2}):(\d{2})$/u.exec(written);
      const minute = Number(match?.[1]) * 60 + Number(match?.[2]);
      if (match !== null && Number(match[2]) < 60 && minute <= 1440) return minute;
      context.issues.push(
        refusal(written, {
          code: "out-of-range",
          expected: "a local time from 00:00 to 24:00, in quotes",
          suggestion: '"08:30"',
        }),
      );
      return z.NEVER;
    })
    .meta({ description: about, examples: ["08:30"], audience: "basic" });
}

export function timeZoneField(about: string) {
  return checked(about, {
    isRight: isKnownTimeZone,
    expected: "an IANA time zone",
    suggest: (value) => nearestWord(value, Intl.supportedValuesOf("timeZone")),
    example: "Europe/Rome",
  });
}

function isKnownTimeZone(name: string): boolean {
  if (!/^[A-Z]/iu.test(name)) return false;
  try {
    new Intl.DateTimeFormat("en", { timeZone: name });
    return true;
  } catch {
    return false;
  }
}

interface TextCheck {
  readonly isRight: (value: string) => boolean;
  readonly expected: string;
  readonly suggest: (value: string) => string | undefined;
  readonly example: string;
}

export function checked(about: string, check: TextCheck) {
  return z
    .string()
    .superRefine((value, context) => {
      if (check.isRight(value)) return;
      const suggestion = check.suggest(value);
      const problem = { code: "wrong-text", expected: check.expected };
      context.addIssue(
        refusal(value, suggestion === undefined ? problem : { ...problem, suggestion }),
      );
    })
    .meta({ description: about, examples: [check.example], audience: "basic" });
}
