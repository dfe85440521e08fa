import { resolve } from "node:path";
import { ESLint } from "eslint";
import { describe, expect, it } from "vitest";

const PLANTED = resolve("test/architecture/planted");

/** `line rule` of every finding in a planted file, with the real configuration. */
async function findings(file: string): Promise<string[]> {
  const eslint = new ESLint({
    cwd: PLANTED,
    overrideConfigFile: resolve("eslint.config.mjs"),
    errorOnUnmatchedPattern: true,
  });
  const [result] = await eslint.lintFiles([file]);
  return result!.messages.map((message) => `${message.line} ${message.ruleId}`);
}

describe("lint", () => {
  it("rejects in the core what the language itself would allow", async () => {
    const found = await findings("service/control/impure.ts");
    for (const expected of [
      "2 no-restricted-globals", // Date.now
      "2 no-restricted-properties",
      "3 no-restricted-globals", // new Date()
      "4 no-restricted-globals", // Intl
      "5 no-restricted-syntax", // toLocaleString
      "6 no-restricted-properties", // Math.random
      "7 no-restricted-properties", // Math.pow
      "8 no-restricted-syntax", // **
      "9 no-restricted-syntax", // async
      "10 no-restricted-syntax", // await
      "10 no-restricted-globals", // Promise
      "13 no-restricted-globals", // setTimeout
      "15 no-restricted-globals", // performance
      "16 no-restricted-syntax", // module-level let
    ]) {
      expect(found).toContain(expected);
    }
  });

  it("rejects carelessness in all production code", async () => {
    const found = await findings("service/careless.ts");
    for (const expected of [
      "2 no-restricted-properties", // Date.now
      "3 no-restricted-syntax", // new Date()
      "4 no-restricted-properties", // performance.now
      "6 no-restricted-globals", // setTimeout
      "9 no-console",
      "11 @typescript-eslint/consistent-type-assertions",
      "12 @typescript-eslint/no-explicit-any",
      "15 @typescript-eslint/max-params",
      "16 no-restricted-syntax", // module-level let
      "17 no-restricted-syntax", // barrel
      "18 no-restricted-syntax", // default export
      "20 @typescript-eslint/no-floating-promises",
    ]) {
      expect(found).toContain(expected);
    }
  });

  it("limits the length of functions and files", async () => {
    const found = await findings("service/endless.ts");
    expect(found).toContain("2 max-lines-per-function");
    expect(found.some((finding) => finding.endsWith(" max-lines"))).toBe(true);
  });
});
