import { readFileSync } from "node:fs";
import fc from "fast-check";
import { expect, test } from "vitest";
import { parseSite } from "../../config/load.ts";
import { UserError } from "../../service/errors.ts";

const EXAMPLES = ["malga", "tasmania"].map((name) =>
  readFileSync(`config/examples/${name}.yaml`, "utf8"),
);

/** What slips, editors and broken disks put into a file. */
const debris = fc.oneof(
  fc.constantFrom("", " ", "\n", "\t", ":", "- ", "{", "]", '"', "'", "#", "&a ", "*a", "!!set "),
  fc.constantFrom("null", "true", "0", "-1", "1e999", "NaN", "[]", "{}", "__proto__: 1", "<<: *a"),
  fc.string({ maxLength: 5, unit: "binary" }),
);

test("a damaged file is read, or refused with places and reasons, and nothing else", () => {
  let refused = 0;
  fc.assert(
    fc.property(
      fc.constantFrom(...EXAMPLES),
      fc.double({ min: 0, max: 1, noNaN: true }),
      fc.integer({ min: 0, max: 12 }),
      debris,
      (text, share, removed, added) => {
        const at = Math.floor(share * text.length);
        const damaged = text.slice(0, at) + added + text.slice(at + removed);
        try {
          parseSite({ text: damaged, fileName: "site.yaml", overrides: [] });
        } catch (error) {
          if (!(error instanceof UserError)) throw error;
          refused += 1;
          expect(error.problems.length).toBeGreaterThan(0);
          for (const problem of error.problems) {
            expect(problem.where).toMatch(/^site\.yaml(:\d+:\d+)?$/u);
            expect(problem.expected).not.toBe("");
          }
        }
      },
    ),
    { seed: 20_260_302, numRuns: 200 },
  );
  // Much of a file is comments and spaces, so that not every damage does harm.
  expect(refused).toBeGreaterThan(60);
});
