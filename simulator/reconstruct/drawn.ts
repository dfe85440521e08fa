/**
 * What a load without a meter drew of what it was allotted. Its own thermostat opens and closes as
 * it likes; each time all use makes a step of the load's own power. Out of all courses of on and
 * off the one that explains the steps best is taken (Viterbi's way).
 */

/** Steps in two rows that follow each other are one step in the midst of a row. [W] no source */
const SPLIT_MIN_W = 40;
/** A step is the load's own if it is as high to this share. [1] no source */
const LIKE = 0.2;
/** No course need explain less. [W] no source */
const NOTHING_W = 20;
/** Each change of mind, so that nothing is told from noise. */
const CHANGE = 0.05;
/** A load that the service starts usually draws, though another's step may hide its own. */
const UNSEEN_START = 0.5;
/** Until then a start may show. [rows] */
const START_ROWS = 3;

interface Step {
  readonly row: number;
  /** It began in `row` and ended in the next. */
  readonly isSplit: boolean;
  /** [W] */
  readonly changeW: number;
  readonly beforeW: number;
  readonly afterW: number;
  /** It has been allotted for a moment only. */
  readonly isStart: boolean;
}

type Thermostat = 0 | 1;

/**
 * What was allotted may be what the service took the load to draw, and wrong; what the settings say
 * may be, too. Which of them is seen to come and go more often is taken.
 *
 * @param restW - All use, less everything that is known.
 * @param ratedW - By the settings; null: it has several powers.
 * @returns [W] ≥ 0
 */
export function drawnW(
  restW: Float64Array,
  recordedW: Float64Array,
  ratedW: number | null,
): Float64Array {
  const asRecorded = courseOf(restW, recordedW);
  if (ratedW === null) return asRecorded.drawnW;
  const asRated = courseOf(
    restW,
    recordedW.map((powerW) => (powerW > 0 ? ratedW : 0)),
  );
  return asRated.seen > asRecorded.seen ? asRated.drawnW : asRecorded.drawnW;
}

interface Course {
  readonly drawnW: Float64Array;
  /** So often was the load's own step seen, less for a step that is not quite its own. */
  readonly seen: number;
}

function courseOf(restW: Float64Array, recordedW: Float64Array): Course {
  const allottedW = recordedW.map((_, row) => allottedAround(recordedW, row));
  const steps = stepsOf(restW, allottedW);
  const states = likeliest(steps);
  const drawn = new Float64Array(restW.length);
  let seen = 0;
  for (const [index, step] of steps.entries()) {
    const state = states[index] ?? 0;
    const isChange = state !== (states[index - 1] ?? 0);
    const { row, changeW, beforeW, afterW } = step;
    if (isChange) seen += likeness(changeW, state === 1 ? afterW : -beforeW);
    drawn[row] = state * (allottedW[row] || 0);
    if (!step.isSplit) continue;
    drawn[row + 1] = state * (allottedW[row + 1] || 0);
    if (isChange) drawn[row] = inSplitRow(step, state, restW);
  }
  return { drawnW: drawn, seen };
}

/**
 * A minute in the midst of which it was switched has a part of its power, and meters show a switch
 * a moment late.
 */
function allottedAround(recordedW: Float64Array, row: number): number {
  const [beforeW, hereW] = [recordedW[row - 1] || 0, recordedW[row] || 0];
  return Math.max(beforeW, hereW, hereW > 0 ? recordedW[row + 1] || 0 : 0);
}

/** The share of the minute in which it drew, by how far the step had come. */
function inSplitRow(step: Step, state: Thermostat, restW: Float64Array): number {
  const { row, changeW, beforeW, afterW } = step;
  const share = ((restW[row] ?? 0) - (restW[row - 1] ?? 0)) / changeW;
  return Math.max(beforeW, afterW) * (state === 1 ? share : 1 - share);
}

/** One for each row, but a step in the midst of a row takes the next with it. */
function stepsOf(restW: Float64Array, allottedW: Float64Array): readonly Step[] {
  const steps: Step[] = [];
  const changeAt = (row: number): number => {
    const changeW = (restW[row] ?? NaN) - (restW[row - 1] ?? NaN);
    return Number.isNaN(changeW) ? 0 : changeW;
  };
  for (let row = 0; row < restW.length; row += 1) {
    const [thisW, nextW] = [changeAt(row), changeAt(row + 1)];
    const isSplit =
      Math.sign(thisW) === Math.sign(nextW) &&
      Math.min(Math.abs(thisW), Math.abs(nextW)) > SPLIT_MIN_W;
    steps.push({
      row,
      isSplit,
      changeW: isSplit ? thisW + nextW : thisW,
      beforeW: allottedW[row - 1] || 0,
      afterW: allottedW[isSplit ? row + 1 : row] || 0,
      isStart: !(allottedW[row - START_ROWS] ?? 0),
    });
    if (isSplit) row += 1;
  }
  return steps;
}

/** On or off after each step: the course that costs least. */
function likeliest(steps: readonly Step[]): readonly Thermostat[] {
  const cameFrom: (readonly [Thermostat, Thermostat])[] = [];
  let costOff = 0;
  let costOn = Infinity;
  for (const step of steps) {
    const [offOff, onOff] = [costOff + costOf(step, 0, 0), costOn + costOf(step, 1, 0)];
    const [offOn, onOn] = [costOff + costOf(step, 0, 1), costOn + costOf(step, 1, 1)];
    cameFrom.push([onOff < offOff ? 1 : 0, onOn < offOn ? 1 : 0]);
    costOff = Math.min(offOff, onOff);
    costOn = Math.min(offOn, onOn);
  }
  const states: Thermostat[] = [];
  let state: Thermostat = costOn < costOff ? 1 : 0;
  for (const from of cameFrom.toReversed()) {
    states.push(state);
    state = from[state];
  }
  return states.reverse();
}

function costOf(step: Step, from: Thermostat, to: Thermostat): number {
  const { row, changeW, beforeW, afterW, isStart } = step;
  if (to === 1 && afterW === 0) return Infinity;
  const expectedW = to * afterW - from * beforeW;
  if (Math.abs(expectedW) < NOTHING_W) {
    // Its own power came or went, and it is said to have had no part in it.
    const ownW = Math.max(beforeW, afterW);
    return ownW === 0 ? 0 : row === 0 ? CHANGE : likeness(Math.abs(changeW), ownW);
  }
  // It was on already when the record began, or it is at another stage.
  if (row === 0 || (from === 1 && to === 1)) return 0;
  const missed = (isStart && to === 1 ? UNSEEN_START : 1) * (1 - likeness(changeW, expectedW));
  return missed + CHANGE;
}

/** 1: alike, 0: not at all. */
function likeness(changeW: number, expectedW: number): number {
  return Math.max(0, 1 - Math.abs(changeW - expectedW) / (LIKE * Math.abs(expectedW)));
}
