import { spawnSync } from "node:child_process";
import { describe, expect, it } from "vitest";

function compile(project: string): string {
  const run = spawnSync(process.execPath, ["node_modules/typescript/bin/tsc", "-p", project], {
    encoding: "utf8",
  });
  return run.stdout;
}

describe("the compiler, where the core is compiled alone", () => {
  it("does not know the console, the process or the file system in control", () => {
    const output = compile("test/architecture/planted/service/control");
    expect(output).toMatch(/uses-node-globals\.ts\(2,1\): error TS\d+: Cannot find name 'console'/);
    expect(output).toMatch(
      /uses-node-globals\.ts\(2,13\): error TS\d+: Cannot find name 'process'/,
    );
    expect(output).toMatch(/reads-a-file\.ts\(2,\d+\): error TS\d+: Cannot find/);
  });

  it("does not know them in solar either", () => {
    const output = compile("test/architecture/planted/service/solar");
    expect(output).toMatch(/uses-node-globals\.ts\(2,1\): error TS\d+: Cannot find name 'console'/);
    expect(output).toMatch(
      /uses-node-globals\.ts\(2,13\): error TS\d+: Cannot find name 'process'/,
    );
  });
});
