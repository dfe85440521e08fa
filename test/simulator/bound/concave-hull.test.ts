import fc from "fast-check";
import { expect, test } from "vitest";
import { concaveHull } from "../../../simulator/bound/concave-hull.ts";

test("of a straight slope the slope itself", () => {
  const points = [0, 1, 2, 3].map((x) => ({ x, y: 60 - 20 * x }));
  expect(concaveHull(points, 50)).toEqual([{ offset: 60, fall: 20 }]);
});

test("a hollow is bridged: from (0, 10) to (4, 0) past (2, 1)", () => {
  const points = [
    { x: 0, y: 10 },
    { x: 2, y: 1 },
    { x: 4, y: 0 },
  ];
  expect(concaveHull(points, 10)).toEqual([{ offset: 10, fall: 2.5 }]);
});

test("no point is ever above a line", () => {
  const falls = fc.array(fc.double({ min: 0, max: 100, noNaN: true }), {
    minLength: 2,
    maxLength: 40,
  });
  fc.assert(
    fc.property(falls, fc.double({ min: 1, max: 500, noNaN: true }), (drops, levelMax) => {
      let y = drops.reduce((sum, drop) => sum + drop, 0);
      const points = drops.map((drop, x) => ({ x, y: (y -= drop) + drop }));
      for (const { offset, fall } of concaveHull(points, levelMax)) {
        for (const point of points) {
          expect(point.y).toBeLessThanOrEqual(offset - fall * point.x + 1e-6);
        }
      }
    }),
  );
});
