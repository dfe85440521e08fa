/** What stands in a replay's result beside what was replayed. */

/** The best that any controller could have done on these days. */
export interface BoundFigures {
  readonly usefulDivertedWh: number;
  /** By how much the solver may be short of it. */
  readonly gapWh: number;
  readonly status: string;
  /** Sunsets under the target that nobody could have avoided. */
  readonly sunsetMisses: number;
}

/** Within which the totals lie, where part of the potential was inferred. */
export interface ReconstructedRange {
  readonly low: RangeFigures;
  readonly high: RangeFigures;
}

/** Those that hang on what the arrays could have given; as in the totals. */
export interface RangeFigures {
  readonly potentialWh: number;
  readonly curtailedWh: number;
  readonly divertedWh: number;
  readonly usefulDivertedWh: number;
}
