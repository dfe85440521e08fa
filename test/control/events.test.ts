/** What is told of a change, from memory to memory: each change once, and nothing else. */
import { describe, expect, it } from "vitest";
import { eventsBetween } from "../../service/control/events.ts";
import { initialMemory } from "../../service/control/memory.ts";
import type { LoadMemory, Memory, PanelMemory } from "../../service/control/memory.ts";
import { load, panel, site } from "./given.ts";

const blank = initialMemory(site({ loads: [load({})], panels: [panel()] }), 0);

function withLoad(over: Partial<LoadMemory>): Memory {
  return { ...blank, loads: blank.loads.map((one) => ({ ...one, ...over })) };
}

function withPanel(over: Partial<PanelMemory>): Memory {
  return { ...blank, panels: blank.panels.map((one) => ({ ...one, ...over })) };
}

const aLoad = { about: "load", index: 0 } as const;
const aPanel = { about: "panel", index: 0 } as const;

describe("the stage of a load", () => {
  it.each([
    [0, 2, "started"],
    [2, 1, "stage"],
    [1, 2, "stage"],
    [2, 0, "stopped"],
  ] as const)("from %d to %d is told as %s", (from, to, change) => {
    const verdict = "running";
    expect(
      eventsBetween(withLoad({ stage: from, verdict }), withLoad({ stage: to, verdict })),
    ).toEqual([{ ...aLoad, change, code: verdict }]);
  });

  it("is not told again while it stays", () => {
    const before = withLoad({ stage: 1, verdict: "running", usedTodayWh: 1 });
    const after = withLoad({ stage: 1, verdict: "running", usedTodayWh: 2 });
    expect(eventsBetween(before, after)).toEqual([]);
  });
});

describe("an alarm about a load", () => {
  it("is raised once, stands, and is cleared once", () => {
    const well = withLoad({ verdict: "waiting-band" });
    const hot = withLoad({ verdict: "tank-hot" });
    const raised = { ...aLoad, change: "raised", code: "tank-hot" };
    expect(eventsBetween(well, hot)).toEqual([raised]);
    expect(eventsBetween(hot, withLoad({ verdict: "tank-hot", ranTodayMs: 1 }))).toEqual([]);
    expect(eventsBetween(hot, well)).toEqual([{ ...raised, change: "cleared" }]);
  });

  it("gives way to another, the old one cleared first", () => {
    const hot = withLoad({ verdict: "tank-hot" });
    expect(eventsBetween(hot, withLoad({ verdict: "tank-unknown" }))).toEqual([
      { ...aLoad, change: "cleared", code: "tank-hot" },
      { ...aLoad, change: "raised", code: "tank-unknown" },
    ]);
  });

  it.each(["site-interlock", "panel-open", "waiting-rest"] as const)(
    "is not made of %s, which is told elsewhere or is none",
    (verdict) => {
      const well = withLoad({ verdict: "waiting-band" });
      expect(eventsBetween(well, withLoad({ verdict }))).toEqual([]);
      expect(eventsBetween(withLoad({ verdict }), well)).toEqual([]);
    },
  );
});

describe("a panel", () => {
  it("tells when its contactor closes and opens", () => {
    const open = withPanel({ isClosed: false, verdict: "panel-idle" });
    const closed = withPanel({ isClosed: true, verdict: "panel-closed" });
    expect(eventsBetween(open, closed)).toEqual([
      { ...aPanel, change: "closed", code: "panel-closed" },
    ]);
    expect(eventsBetween(closed, open)).toEqual([
      { ...aPanel, change: "opened", code: "panel-idle" },
    ]);
  });

  it("tells of its alarm once, and of its end once", () => {
    const well = withPanel({ verdict: "panel-idle" });
    const latched = withPanel({ verdict: "latched-panel" });
    const raised = { ...aPanel, change: "raised", code: "latched-panel" };
    expect(eventsBetween(well, latched)).toEqual([raised]);
    expect(eventsBetween(latched, withPanel({ ...latched.panels[0], lastUsedAtMs: 1 }))).toEqual(
      [],
    );
    expect(eventsBetween(latched, well)).toEqual([{ ...raised, change: "cleared" }]);
  });
});

describe("the site's codes", () => {
  it("are raised when they come and cleared when they go, whatever stays", () => {
    const before: Memory = { ...blank, siteCodes: ["voltage-high", "soc-disagrees"] };
    const after: Memory = { ...blank, siteCodes: ["soc-disagrees", "charge-blocked"] };
    expect(eventsBetween(before, after)).toEqual([
      { about: "site", index: 0, change: "raised", code: "charge-blocked" },
      { about: "site", index: 0, change: "cleared", code: "voltage-high" },
    ]);
  });
});
