/** What of a tick goes into the database, apart from the minute samples. */
import type { CoreEvent, Decision, Verdict } from "../control/decision.ts";
import type { Memory } from "../control/memory.ts";
import type { LoadObservation, Observation } from "../control/observation.ts";
import type { Tick } from "./messages.ts";
import type { Row } from "./rows.ts";
import type { ListIds } from "./signal-walk.ts";

/** Name of the battery's charge stage among the words. */
export const CHARGE_STAGE = "decision.chargeStage";

const MINUTE_MS = 60_000;

export interface TickRows {
  /** @returns Rows that this tick adds to those of the tick before. */
  readonly rowsOf: (tick: Omit<Tick, "memoryBefore">) => Row[];
}

export function createTickRows(ids: ListIds): TickRows {
  const verdicts = new Map<string, string>();
  const confirmed = new Map<string, boolean>();
  const words = new Map<string, string>();
  let wordsDay: number | null = null;
  const idOf = (about: "load" | "panel", index: number): string =>
    ids[`${about}s`]?.[index] ?? String(index);

  const decisionRows = (decision: Decision, atMs: number): Row[] => {
    const rows: Row[] = [];
    const note = (about: "load" | "panel", index: number, verdict: Verdict): void => {
      const { code, stage, measured, limit } = verdict;
      const owner = idOf(about, index);
      const key = `${about} ${owner}`;
      const summary = `${code} ${stage}`;
      if (verdicts.get(key) === summary) return;
      verdicts.set(key, summary);
      const values = [atMs, about, owner, code, stage, finite(measured), finite(limit)];
      rows.push({ kind: "decision", values });
    };
    for (const [index, one] of decision.verdicts.entries()) note("load", index, one);
    for (const [index, one] of decision.panelVerdicts.entries()) note("panel", index, one);
    return rows;
  };

  const confirmationRows = (memory: Memory, atMs: number): Row[] => {
    const rows: Row[] = [];
    for (const { id, isConfirmed } of memory.loads) {
      const isNew = isConfirmed && confirmed.get(id) === false;
      if (isNew) rows.push({ kind: "confirmation", values: [atMs, "load", id] });
      confirmed.set(id, isConfirmed);
    }
    return rows;
  };

  /** A day is read without those before it, so each begins with every word. */
  const wordRows = (decision: Decision, { localDay, wallMs: atMs }: Observation): Row[] => {
    if (localDay !== wordsDay) words.clear();
    wordsDay = localDay;
    const { chargeStage } = decision.site;
    const text = chargeStage ?? "";
    if (words.get(CHARGE_STAGE) === text) return [];
    words.set(CHARGE_STAGE, text);
    return [{ kind: "word", values: [atMs, CHARGE_STAGE, text] }];
  };

  return {
    rowsOf({ observation, memory, decision }) {
      const { wallMs: atMs, loads, panels } = observation;
      const request = (about: "load" | "panel", index: number, asked: string): Row[] =>
        asked === "none"
          ? []
          : [{ kind: "override", values: [atMs, about, idOf(about, index), asked] }];
      return [
        ...decision.events.map((event) => eventRow(event, atMs, idOf)),
        ...decisionRows(decision, atMs),
        ...findingRows(decision, atMs),
        ...wordRows(decision, observation),
        ...loads.flatMap((load, index) => request("load", index, orderOf(load))),
        ...panels.flatMap((panel, index) => request("panel", index, panel.request)),
        ...confirmationRows(memory, atMs),
      ];
    },
  };
}

/** Such as `run 30 min`. */
function orderOf({ request, requestForMs }: LoadObservation): string {
  const hasTime = request === "run" || request === "hold";
  return hasTime ? `${request} ${Math.round(requestForMs / MINUTE_MS)} min` : request;
}

/** The numbers of what is wrong with the site, as they were when it was raised. */
function findingRows({ events, site }: Decision, atMs: number): Row[] {
  return events.flatMap(({ about, change, code }) => {
    if (about !== "site" || change !== "raised") return [];
    const finding = site.findings.find((one) => one.code === code);
    if (finding === undefined) return [];
    const numbers = [finite(finding.measured), finite(finding.limit)];
    return [{ kind: "decision" as const, values: [atMs, "site", "site", code, 0, ...numbers] }];
  });
}

function eventRow(
  { about, index, change, code }: CoreEvent,
  atMs: number,
  idOf: (about: "load" | "panel", index: number) => string,
): Row {
  const owner = about === "site" ? "site" : idOf(about, index);
  return { kind: "event", values: [atMs, about, owner, change, code] };
}

/** A column of numbers has no place for infinity. */
function finite(value: number | null): number | null {
  return value !== null && Number.isFinite(value) ? value : null;
}
