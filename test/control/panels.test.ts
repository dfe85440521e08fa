import { describe, expect, it } from "vitest";
import { interlockOf } from "../../service/control/interlocks.ts";
import { InvariantError } from "../../service/control/invariant.ts";
import { initialMemory } from "../../service/control/memory.ts";
import { load, MINUTE_MS, observe, panel, Run, site, TICK_MS } from "./given.ts";

describe("a contactor without a report", () => {
  it("counts as closed once it has had its time", () => {
    const run = new Run(
      site({ panels: [panel({ hasReport: false })], loads: [load({ panelIndex: 0 })] }),
    );
    run.during(5 * MINUTE_MS);
    expect(run.memory.panels[0]?.isClosed).toBe(true);
    const waiting = run.tick();
    expect(waiting.verdicts[0]?.code).toBe("waiting-contactor");
    expect(run.stages).toEqual([0]);
    run.tick();
    expect(run.memory.panels[0]?.changedAtMs).toBe(run.atMs - 2 * TICK_MS);
    expect(run.stages).toEqual([2]);
  });
});

describe("a load that nobody knows", () => {
  it("is a programmer's error: the process ends, everything off", () => {
    const settings = site();
    const { loads, panels } = initialMemory(settings, 0);
    const input = { settings, observation: observe(settings, 0), findings: [], loads, panels };
    expect(interlockOf(0, input)).toBeNull();
    expect(() => interlockOf(1, input)).toThrow(InvariantError);
  });
});
