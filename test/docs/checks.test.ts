/** `docs/checks.md` is written by `npm run checks`; here it is held to be current. */
import { existsSync } from "node:fs";
import { format } from "prettier";
import { describe, expect, it } from "vitest";
import { publishedValues } from "../checks/published-values.ts";

const PAGE = "docs/checks.md";
const values = publishedValues();

/** Six significant digits, as all our figures. */
function figure(value: number): string {
  return String(Number(value.toPrecision(6)));
}

function page(): string {
  const rows = values.map(({ quantity, unit, source, expected, tolerance, got }) =>
    [quantity, source, figure(expected), figure(got), `± ${figure(tolerance)}`, unit].join(" | "),
  );
  return [
    "# Published values",
    "",
    "What the models of sun, battery, water and fuel are held to. Written by `npm run checks`;",
    "the tests in `test/checks/` compare many more rows of the same sources.",
    "",
    "| quantity | source | expected | got | tolerance | unit |",
    "| --- | --- | ---: | ---: | ---: | --- |",
    ...rows.map((row) => `| ${row} |`),
    "",
  ].join("\n");
}

describe("published values", () => {
  it.each(values)("$quantity: $expected $unit ($source)", ({ expected, got, tolerance }) => {
    expect(Math.abs(got - expected)).toBeLessThanOrEqual(tolerance);
  });

  it("stand in the docs as they are now", async () => {
    expect(values.length).toBeGreaterThanOrEqual(20);
    expect(existsSync(PAGE), "npm run checks writes it").toBe(true);
    const text = await format(page(), { parser: "markdown" });
    await expect(text).toMatchFileSnapshot(`../../${PAGE}`);
  });
});
