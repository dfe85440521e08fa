/**
 * What a tick decided, as the journal keeps it: the outcome, and one sum over all its figures. The
 * sum is worth a few bytes a tick, and no figure can differ without it.
 */
import { crc32 } from "node:zlib";
import type { Decision, Verdict } from "../../control/decision.ts";

export interface Decided {
  /** CRC-32 of the whole decision as JSON. */
  readonly sum: number;
  readonly loadStages: readonly number[];
  readonly loadCodes: readonly Verdict["code"][];
  readonly panelsClosed: readonly boolean[];
  readonly panelCodes: readonly Verdict["code"][];
}

export function decidedBy(decision: Decision): Decided {
  const { loadStages, verdicts, panelsClosed, panelVerdicts } = decision;
  return {
    sum: crc32(JSON.stringify(decision)),
    loadStages,
    loadCodes: verdicts.map(({ code }) => code),
    panelsClosed,
    panelCodes: panelVerdicts.map(({ code }) => code),
  };
}
