/** Rules between keys: what each key alone may say, but not together with another. */
import { batteryChecks } from "./battery-checks.ts";
import { brokerChecks } from "./broker-checks.ts";
import type { Finding } from "./findings.ts";
import { guidanceChecks } from "./guidance-checks.ts";
import { inverterChecks } from "./inverter-checks.ts";
import { loadChecks } from "./load-checks.ts";
import type { PartialFile } from "./partial-file.ts";
import { siteChecks } from "./site-checks.ts";
import type { MappedSignal } from "./mapped-signals.ts";
import { telemetryChecks } from "./telemetry-checks.ts";
import { topicChecks } from "./topic-checks.ts";

/** Sections that could not be read are passed over; their own problems are said elsewhere. */
export function crossChecks(
  file: PartialFile,
  signals: readonly MappedSignal[],
): readonly Finding[] {
  return [
    ...siteChecks(file),
    ...brokerChecks(file, signals),
    ...batteryChecks(file),
    ...inverterChecks(file),
    ...loadChecks(file),
    ...guidanceChecks(file),
    ...telemetryChecks(file, signals),
    ...topicChecks(file, signals),
  ];
}
