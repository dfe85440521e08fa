/** What a load was seen to draw. The same object from tick to tick while nothing new is seen. */
export interface DrawMemory {
  /** Learned AC power of each stage; null: not seen yet. [W] */
  readonly learnedW: readonly (number | null)[];
  /** The last steps that starts and stops of each stage made, oldest first; by no meter. [W] */
  readonly stepsW: readonly (readonly number[])[];
  /** Stage that it runs at or, off, ran at last; 0: not since the core started. */
  readonly ofStage: number;
  /** Inverter's AC power before it was switched last; null: not known, or of no more use. [W] */
  readonly powerBeforeW: number | null;
  /** Since when it is on and draws nothing. */
  readonly idleSinceMs: number | null;
  /** Times in a row that it was given up for drawing nothing. */
  readonly idleTimes: number;
}

/** Of a load that was never seen. */
export function nothingDrawn(stageCount: number): DrawMemory {
  return {
    learnedW: new Array<number | null>(stageCount).fill(null),
    stepsW: new Array<readonly number[]>(stageCount).fill([]),
    ofStage: 0,
    powerBeforeW: null,
    idleSinceMs: null,
    idleTimes: 0,
  };
}
