export interface Point {
  readonly x: number;
  readonly y: number;
}

/** y = offset − fall · x */
export interface Line {
  readonly offset: number;
  readonly fall: number;
}

/** Of the edges that matter, these shares of the way down are kept. [1] no source */
const KEPT = [0.8, 0.4, 0.15, 0.03] as const;

/**
 * Lines over a falling curve: each lies on an edge of its concave hull, so that no point is above
 * one of them. Fewer lines make the hull larger, never smaller.
 *
 * @param points - Rising in x.
 * @param levelMax - Above it the curve does not matter.
 */
export function concaveHull(points: readonly Point[], levelMax: number): readonly Line[] {
  const hull = upperHull(points);
  const lines: Line[] = [];
  for (const share of KEPT) {
    const edge = edgeAt(hull, share * levelMax);
    if (edge !== null && !lines.some(({ fall }) => fall === edge.fall)) lines.push(edge);
  }
  return lines;
}

function upperHull(points: readonly Point[]): readonly Point[] {
  const hull: Point[] = [];
  for (const point of points) {
    for (;;) {
      const last = hull.at(-1);
      const before = hull.at(-2);
      if (last === undefined || before === undefined) break;
      const isBelow =
        (last.y - before.y) * (point.x - before.x) <= (point.y - before.y) * (last.x - before.x);
      if (!isBelow) break;
      hull.pop();
    }
    hull.push(point);
  }
  return hull;
}

/** The falling edge on which the hull passes this level. */
function edgeAt(hull: readonly Point[], level: number): Line | null {
  for (let i = 1; i < hull.length; i += 1) {
    const from = hull[i - 1];
    const to = hull[i];
    if (from === undefined || to === undefined) continue;
    if (from.y <= level || to.y > level) continue;
    const fall = (from.y - to.y) / (to.x - from.x);
    return { offset: from.y + fall * from.x, fall };
  }
  return null;
}
