import { existsSync, readFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { describe, expect, it } from "vitest";
import { parse } from "yaml";
import { shellBlocks } from "./shell-blocks.ts";

const read = (path: string): string => readFileSync(path, "utf8");
const { scripts } = parse(read("package.json")) as { scripts: Record<string, string> };

describe("README", () => {
  it("begins with one command to see it work and one to test it", () => {
    const blocks = shellBlocks(read("README.md"));
    expect(blocks.slice(0, 2)).toEqual(["npm ci && npm run demo", "npm ci && npm test"]);
  });

  it("names the very test command that the whole check runs", () => {
    const [, command] = shellBlocks(read("README.md"));
    expect(read(".ci/run")).toContain(`\n${command} 2>&1 | tee`);
  });
});

describe.each(["README.md", "DEVELOPERS.md"])("%s", (file) => {
  const text = read(file);

  it("points only at files that are there", () => {
    const links = [...text.matchAll(/\]\(([^)#:]+)\)/gu)].map((match) => match[1]!);
    const missing = links.filter((link) => !existsSync(join(dirname(file), link)));
    expect(missing).toEqual([]);
    if (file === "README.md") expect(links.length).toBeGreaterThan(2);
  });

  it("names only npm scripts that exist", () => {
    const named = [...text.matchAll(/npm run ([a-z][a-z-]*)/gu)].map((match) => match[1]!);
    expect(named.length).toBeGreaterThan(0);
    expect(named.filter((name) => !(name in scripts))).toEqual([]);
  });
});
