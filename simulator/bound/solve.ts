/** The one place that knows HiGHS. It is loaded when a bound is asked for, and not before. */
import type highsLoader from "highs";
import { invariant } from "../../service/control/invariant.ts";
import type { Programme } from "./programme.ts";

export interface Solution {
  readonly status: SolveStatus;
  /** Worth of the columns; 0 unless it is the best. */
  readonly worth: number;
  /** By how much the best could still be better: the solver's own estimate. */
  readonly gap: number;
  readonly columns: Float64Array;
}

export type SolveStatus = "optimal" | "infeasible" | "unsolved";

export interface SolveOptions {
  /** Called now and then with the iterations so far. */
  readonly onIterations: (count: number) => void;
}

type Loader = (typeof highsLoader)["default"];

/** Its types describe the CommonJS form, in which the loader lies one level deeper. */
function isLoader(value: unknown): value is Loader {
  return typeof value === "function";
}

async function loadHighs(): ReturnType<Loader> {
  const { default: load }: { readonly default: unknown } = await import("highs");
  invariant(isLoader(load), "the solver's package exports its loader");
  return load();
}

export async function solve(programme: Programme, options: SolveOptions): Promise<Solution> {
  const highs = await loadHighs();
  const { constants } = highs;
  const model = highs.createModel({
    numCols: programme.columnCount,
    numRows: programme.rowCount,
    sense: constants.objectiveSense.maximize,
    colCost: programme.worth,
    colLower: programme.columnLower,
    colUpper: programme.columnUpper,
    rowLower: programme.rowLower,
    rowUpper: programme.rowUpper,
    matrix: {
      format: "csr",
      numCols: programme.columnCount,
      numRows: programme.rowCount,
      starts: programme.starts,
      indices: programme.indices,
      values: programme.values,
    },
  });
  try {
    model.options.set({ output_flag: false, presolve: "on", solver: "simplex" });
    model.run({
      [constants.callbackType.simplexInterrupt]: ({ data }) => {
        options.onIterations(data.simplex_iteration_count ?? 0);
      },
    });
    const status = model.getModelStatus();
    if (status !== constants.modelStatus.optimal) {
      const isInfeasible = status === constants.modelStatus.infeasible;
      return {
        status: isInfeasible ? "infeasible" : "unsolved",
        worth: 0,
        gap: 0,
        columns: new Float64Array(0),
      };
    }
    const worth = model.getObjectiveValue();
    const error = model.info.get("primal_dual_objective_error");
    return {
      status: "optimal",
      worth,
      gap: Math.abs(Number(error)) * (1 + Math.abs(worth)),
      columns: model.getSolution().colValue,
    };
  } finally {
    model.dispose();
  }
}
