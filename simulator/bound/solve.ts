/** The one place that knows HiGHS. It is loaded when a bound is asked for, and not before. */
import type highsLoader from "highs";
import { invariant } from "../../service/control/invariant.ts";
import { likelyBasis } from "./likely-basis.ts";
import type { Basis } from "./likely-basis.ts";
import type { Programme } from "./programme.ts";

export interface Solution {
  readonly status: SolveStatus;
  /** Worth of the columns; 0 unless it is the best. */
  readonly worth: number;
  /** By how much the best could still be better: the solver's own estimate. */
  readonly gap: number;
  readonly columns: Float64Array;
  /** Of the last run, after what led to where it began. */
  readonly lastIterations: number;
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

type Highs = Awaited<ReturnType<Loader>>;

export async function solve(programme: Programme, options: SolveOptions): Promise<Solution> {
  const highs = await loadHighs();
  let before = 0;
  const onIterations = (count: number): void => options.onIterations(before + count);
  const basis = likelyBasis(programme, highs.constants.basisStatus.basic, (part) => {
    const solved = run(highs, part, { onIterations, basis: null });
    before += solved.lastIterations;
    return solved.status === "optimal" ? solved : null;
  });
  const { status, worth, gap, columns, lastIterations } = run(highs, programme, {
    onIterations,
    basis,
  });
  return { status, worth, gap, columns, lastIterations };
}

/**
 * Rows and columns are watts and watt-hours, of one size all. Scaled by the solver, the best of the
 * scaled programme was a little outside of the real one, and a year was mended for minutes, or not.
 */
const OPTIONS = {
  output_flag: false,
  presolve: "on",
  solver: "simplex",
  simplex_scale_strategy: 0,
} as const;

interface RunOptions extends SolveOptions {
  /** null: the solver begins from nothing. */
  readonly basis: Basis | null;
}

interface Run extends Solution {
  readonly basis: Basis;
}

function run(highs: Highs, programme: Programme, { onIterations, basis }: RunOptions): Run {
  const { constants } = highs;
  const model = highs.createModel(modelData(highs, programme));
  try {
    model.options.set(OPTIONS);
    if (basis !== null) model.setBasis(basis);
    model.run({
      [constants.callbackType.simplexInterrupt]: ({ data }) => {
        onIterations(data.simplex_iteration_count ?? 0);
      },
    });
    const status = model.getModelStatus();
    const lastIterations = Number(model.info.get("simplex_iteration_count"));
    const found = { lastIterations, basis: model.getBasis() };
    if (status !== constants.modelStatus.optimal) {
      const isInfeasible = status === constants.modelStatus.infeasible;
      const nothing = { worth: 0, gap: 0, columns: new Float64Array(0) };
      return { status: isInfeasible ? "infeasible" : "unsolved", ...nothing, ...found };
    }
    const worth = model.getObjectiveValue();
    const error = model.info.get("primal_dual_objective_error");
    const gap = Math.abs(Number(error)) * (1 + Math.abs(worth));
    return { status: "optimal", worth, gap, columns: model.getSolution().colValue, ...found };
  } finally {
    model.dispose();
  }
}

function modelData(highs: Highs, programme: Programme): Parameters<Highs["createModel"]>[0] {
  const { columnCount, rowCount, starts, indices, values } = programme;
  return {
    numCols: columnCount,
    numRows: rowCount,
    sense: highs.constants.objectiveSense.maximize,
    colCost: programme.worth,
    colLower: programme.columnLower,
    colUpper: programme.columnUpper,
    rowLower: programme.rowLower,
    rowUpper: programme.rowUpper,
    matrix: { format: "csr", numCols: columnCount, numRows: rowCount, starts, indices, values },
  };
}
