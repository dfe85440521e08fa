import { spawnSync } from "node:child_process";
import { resolve } from "node:path";
import { describe, expect, it } from "vitest";

/**
 * Fewer modules than this mean that the tool has gone blind (it prints a green tick over zero
 * modules), not that the project has shrunk. Raise it as the project grows.
 */
const MODULES_MIN = 100;
const FOLDERS = ["service", "config", "simulator"];

const PLANTED: Record<string, string> = {
  "solar-stands-alone": "service/solar/imports-control.ts",
  "control-stands-alone": "service/control/reads-a-file.ts",
  "simulator-knows-no-shell": "simulator/imports-switching.ts",
  "service-knows-no-simulator": "service/imports-simulator.ts",
  "rooms-are-strangers": "service/web/imports-switching.ts",
  "rooms-know-no-composition": "service/web/imports-daemon.ts",
  "rooms-take-site-types-only": "service/telemetry/imports-loader.ts",
  "config-knows-no-shell": "config/imports-daemon.ts",
  "commands-are-strangers": "service/imports-command.ts",
  "mqtt-in-broker-only": "service/switching/imports-mqtt.ts",
  "http-in-web-only": "service/telemetry/imports-fastify.ts",
  "sqlite-in-history-only": "service/telemetry/imports-sqlite.ts",
  "history-knows-core-types-only": "service/history/imports-core.ts",
  "dashboard-imports-types-only": "service/dashboard/imports-code.ts",
  "nothing-imports-dashboard": "service/imports-dashboard.ts",
  "nothing-imports-tests": "service/imports-tests.ts",
  "no-dev-dependency": "service/imports-dev-dependency.ts",
  "no-circles": "service/control/circle-a.ts",
  "everything-resolves": "service/control/misses-a-file.ts",
};

interface Cruise {
  readonly summary: {
    readonly totalCruised: number;
    readonly ruleSetUsed: { readonly forbidden: readonly { name: string }[] };
    readonly violations: readonly { from: string; to: string; rule: { name: string } }[];
  };
}

/** A process of its own, as in `npm run arrows`: the tool caches resolutions between two calls. */
function check(cwd: string): Cruise {
  const program = resolve("node_modules/dependency-cruiser/bin/dependency-cruise.mjs");
  const config = resolve(".dependency-cruiser.mjs");
  const run = spawnSync(
    process.execPath,
    [program, "--config", config, "--output-type", "json", ...FOLDERS],
    { cwd, encoding: "utf8", maxBuffer: 64 * 1024 * 1024 },
  );
  expect(run.stderr).toBe("");
  return JSON.parse(run.stdout) as Cruise;
}

describe("the arrows", () => {
  it("hold in the real tree, and the tool has seen it", () => {
    const result = check(process.cwd());
    const found = result.summary.violations.map((v) => `${v.rule.name}: ${v.from} -> ${v.to}`);
    expect(found).toEqual([]);
    expect(result.summary.totalCruised).toBeGreaterThanOrEqual(MODULES_MIN);
  });

  it("reject one planted violation of each rule, by name", () => {
    const { ruleSetUsed, violations } = check("test/architecture/planted").summary;
    const found = violations.map((v) => `${v.rule.name}: ${v.from}`);
    for (const [rule, file] of Object.entries(PLANTED)) expect(found).toContain(`${rule}: ${file}`);
    expect(Object.keys(PLANTED).sort()).toEqual(ruleSetUsed.forbidden.map((r) => r.name).sort());
  });
});
