/** The signals that stand at the load or panel that they belong to. */
import { errorAt } from "./findings.ts";
import type { SettingsPath } from "./findings.ts";
import { contact, measured, merge, reported } from "./mapped-signals.ts";
import type { MappedSignals, OwnedSignal } from "./mapped-signals.ts";
import type { LoadSection, PanelSection, PumpSection } from "./schema.ts";
import type { SignalKey } from "./signals.ts";
import type { Decoding } from "./site-settings.ts";

export function panelSignals(panel: PanelSection, path: SettingsPath): MappedSignals {
  const parts: MappedSignals[] = [];
  const { report } = panel.contactor;
  const own = { ownerId: panel.id };
  if (report !== undefined) {
    const at = [...path, "contactor", "report"];
    parts.push(contact({ ...own, key: "panel.{id}.report", path: at }, report));
  }
  if (panel.meter !== undefined) {
    const owned = { ...own, path: [...path, "meter"] };
    parts.push(measured({ ...owned, key: "panel.{id}.power" }, panel.meter));
  }
  return merge(parts);
}

export function loadSignals(load: LoadSection, path: SettingsPath): MappedSignals {
  const own: Owner = { ownerId: load.id, path };
  const parts: MappedSignals[] = [loadReport(load, path)];
  const meter = { ...own, path: [...path, "meter"] };
  if (load.meter !== undefined) parts.push(numberAt("load.{id}.power", meter, load.meter));
  if (load.byHand !== undefined) {
    const at = [...path, "byHand"];
    const owned = { key: "load.{id}.byHand", ownerId: load.id, path: at } as const;
    parts.push(contact(owned, load.byHand));
  }
  if (load.kind === "sockets") parts.push(buttonSignal(load, path));
  else {
    if (load.tank !== undefined) {
      const tank = { ...own, path: [...path, "tank", "sensor"] };
      parts.push(numberAt("load.{id}.tankTemperature", tank, load.tank.sensor));
    }
    if (load.pump !== undefined) parts.push(pumpSignals(load.pump, load.id, [...path, "pump"]));
  }
  return merge(parts);
}

interface Owner {
  readonly ownerId: string;
  readonly path: SettingsPath;
}

type Meter = NonNullable<LoadSection["meter"]>;

function numberAt(key: SignalKey, owner: Owner, meter: Meter): MappedSignals {
  return measured({ key, ...owner }, meter);
}

function pumpSignals(pump: PumpSection, ownerId: string, path: SettingsPath): MappedSignals {
  const at = (...keys: string[]): Owner => ({ ownerId, path: [...path, ...keys] });
  const parts: MappedSignals[] = [];
  const { flow, sourceLow, level, pipe } = pump;
  if (flow !== undefined) parts.push(numberAt("load.{id}.flow", at("flow"), flow));
  if (sourceLow !== undefined) {
    const owned = { key: "load.{id}.sourceLow", ...at("sourceLow") } as const;
    parts.push(contact(owned, sourceLow));
  }
  if (level !== undefined) {
    parts.push(numberAt("load.{id}.level", at("level", "sensor"), level.sensor));
  }
  if (pipe !== undefined) {
    parts.push(numberAt("load.{id}.pipeTemperature", at("pipe", "sensor"), pipe.sensor));
  }
  return merge(parts);
}

type SocketsSection = Extract<LoadSection, { kind: "sockets" }>;

/** A button often says only that it is pressed; nobody waits for the other word. */
function buttonSignal({ request, id }: SocketsSection, path: SettingsPath): MappedSignals {
  if (request === undefined) return merge([]);
  const at = [...path, "request"];
  const owned = { key: "load.{id}.pressed", ownerId: id, path: at } as const;
  if (request.on === undefined) return contact(owned, request);
  const decoding = { kind: "booleanTable", table: { [request.on]: true } } as const;
  return reported(owned, request, { decoding, range: { min: 0, max: 1 }, findings: [] });
}

function loadReport(load: LoadSection, path: SettingsPath): MappedSignals {
  if (load.report === undefined) return merge([]);
  const at = [...path, "report"];
  const owned = { key: "load.{id}.report", ownerId: load.id, path: at } as const;
  if (load.kind === "staged") return stageReport(owned, load.stages.length, load.report);
  const { on, off } = load.report;
  if (load.kind !== "modulating" || on !== undefined || off !== undefined) {
    return contact(owned, load.report);
  }
  return reported(owned, load.report, {
    decoding: { kind: "aboveZero" },
    range: { min: 0, max: 1 },
    findings: [],
  });
}

type StageReportSection = NonNullable<Extract<LoadSection, { kind: "staged" }>["report"]>;

function stageReport(
  owned: OwnedSignal,
  highest: number,
  report: StageReportSection,
): MappedSignals {
  const { values } = report;
  const decoding: Decoding =
    values === undefined
      ? { kind: "number", scale: 1, offset: 0 }
      : { kind: "numberTable", table: values };
  const findings = Object.entries(values ?? {})
    .filter(([, stage]) => stage > highest)
    .map(([text]) =>
      errorAt([...owned.path, "values", text], "out-of-range", {
        expected: `a stage from 0 (off) to ${String(highest)}`,
      }),
    );
  return reported(owned, report, { decoding, range: { min: 0, max: highest }, findings });
}
