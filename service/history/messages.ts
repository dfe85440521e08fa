/** What passes between the history and the thread that writes it: plain data that can be copied. */
import type { HistorySettings } from "../../config/site-settings.ts";
import type { Decision } from "../control/decision.ts";
import type { Memory } from "../control/memory.ts";
import type { Observation } from "../control/observation.ts";
import type { ControlSettings } from "../control/settings.ts";
import type { SavedMemory } from "./memory-file.ts";

export interface ScribeOptions {
  readonly history: HistorySettings;
  readonly control: ControlSettings;
  readonly codeVersion: string;
  /** Local times, for what is set aside before the first tick. */
  readonly wallMs: number;
}

export interface Tick {
  readonly observation: Observation;
  /** What `step` was given. */
  readonly memoryBefore: Memory;
  /** What `step` gave back. */
  readonly memory: Memory;
  readonly decision: Decision;
}

export interface SentCommand {
  readonly about: "load" | "panel";
  /** Id of the load or panel. */
  readonly owner: string;
  readonly stage: number;
  readonly wallMs: number;
  /** null: the broker has not taken it. */
  readonly acknowledgedMs: number | null;
}

/** What a day that is over came to. */
export interface FiguresToKeep {
  readonly localDay: number;
  /** Begin of the day. [ms] */
  readonly fromMs: number;
  /** JSON. */
  readonly body: string;
}

export type ToScribe =
  | {
      readonly kind: "tick";
      readonly tick: Omit<Tick, "memoryBefore">;
      /** Where it is not the memory after the tick that came before; null if it is. */
      readonly memoryBefore: Memory | null;
    }
  | { readonly kind: "command"; readonly command: SentCommand }
  | { readonly kind: "figures"; readonly figures: FiguresToKeep }
  /** Goes into the file with the next memory. */
  | { readonly kind: "times"; readonly times: unknown }
  | { readonly kind: "lost"; readonly count: number; readonly reason: string }
  | { readonly kind: "flush"; readonly ticket: number }
  | { readonly kind: "close"; readonly ticket: number };

export type FromScribe =
  | { readonly kind: "open"; readonly saved: SavedMemory | null }
  /** One message is dealt with. */
  | { readonly kind: "done"; readonly droppedCount: number; readonly isWriting: boolean }
  | { readonly kind: "flushed"; readonly ticket: number; readonly isWhole: boolean }
  | {
      readonly kind: "said";
      readonly level: "info" | "warn";
      readonly message: string;
      readonly fields: object;
    };
