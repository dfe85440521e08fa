import { defineConfig } from "vitest/config";

/** A test that hangs ends sometime; one that is slow on a busy machine must not. */
const limits = { testTimeout: 600_000, hookTimeout: 600_000 };

/** Real brokers and real processes take the machine's time: one file after the other. */
const serial = { ...limits, fileParallelism: false, maxWorkers: 1, retry: 0 };

/**
 * Each of them runs a program to its end and waits for nothing in between: side by side, and first
 * among the tests of one unit, since each of these files takes longer than most of those.
 */
const COMMANDS = [
  ...["cli", "cli-bound", "cli-replay", "import", "measured-days"],
  // In lock-step: what is waited for is the other side, however long it takes.
  ...["demo", "reconstruct", "rig", "rig-elsewhere"],
].map((name) => `test/process/${name}.test.ts`);

/** Globs, comma-separated: test/run.mjs leaves out what cannot run here, and says so. */
const leftOut = (process.env["TEST_EXCLUDE"] ?? "").split(",").filter((glob) => glob !== "");

export default defineConfig({
  test: {
    allowOnly: false,
    passWithNoTests: false,
    teardownTimeout: 60_000,
    projects: [
      {
        extends: true,
        test: {
          name: "unit",
          include: ["test/**/*.test.ts"],
          exclude: ["test/broker/**", "test/process/**", "test/browser/**", ...leftOut],
          // Far from the zones of the examples and of most machines, where summer is in January.
          env: { TZ: process.env["UNIT_ZONE"] ?? "Pacific/Auckland" },
          ...limits,
          maxWorkers: "100%",
          sequence: { groupOrder: 0 },
        },
      },
      {
        extends: true,
        test: {
          ...serial,
          name: "broker",
          include: ["test/broker/**/*.test.ts"],
          exclude: leftOut,
          sequence: { groupOrder: 1 },
        },
      },
      {
        extends: true,
        test: {
          name: "command",
          include: COMMANDS,
          exclude: leftOut,
          ...limits,
          maxWorkers: "100%",
          sequence: { groupOrder: 0 },
        },
      },
      {
        extends: true,
        test: {
          ...serial,
          name: "process",
          include: ["test/process/**/*.test.ts"],
          exclude: [...COMMANDS, ...leftOut],
          sequence: { groupOrder: 2 },
        },
      },
      {
        extends: true,
        test: {
          ...serial,
          name: "browser",
          include: ["test/browser/**/*.test.ts"],
          exclude: leftOut,
          sequence: { groupOrder: 3 },
        },
      },
    ],
    coverage: {
      provider: "v8",
      // The rooms of the shell run over real brokers and as processes, which this does not see.
      include: ["service/control/**/*.ts", "service/solar/**/*.ts"],
      reporter: ["text-summary", "json-summary", "html"],
      // Coverage is a hint; breaking a rule on purpose is the proof.
      thresholds: {
        "service/control/**": { branches: 100 },
        "service/solar/**": { branches: 100 },
      },
    },
  },
});
