/** What the history keeps of a command that was answered. */
import type { SentCommand } from "./history/messages.ts";
import type { CommandAnswer } from "./switching/actuators.ts";

/** @returns null for lamps and sounders: they switch nothing, and leave no trace. */
export function commandRecord(answer: CommandAnswer, wallMs: number): SentCommand | null {
  const { actuator, stage, isAcknowledged, tookMs } = answer;
  if (actuator.kind === "warning") return null;
  return {
    about: actuator.kind,
    owner: actuator.id,
    stage,
    wallMs,
    acknowledgedMs: isAcknowledged ? tookMs : null,
  };
}
