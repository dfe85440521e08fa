/** Loads whose power can be set, and the lamps that warn before sockets go off. */
import { describe, expect, test } from "vitest";
import type { ActuatorSettings } from "../../config/site-settings.ts";
import { createSwitching } from "../../service/switching/actuators.ts";
import type { Command } from "../../service/switching/links.ts";
import { planLinks } from "../../service/switching/links.ts";
import { createMemoryLog } from "../support/log.ts";
import { createManualClock } from "../support/manual-clock.ts";
import { testActuators } from "../support/site.ts";

const TIMING = { repeatMs: 30_000, holdMs: 90_000 } as const;

const WHEY_VAT: ActuatorSettings = {
  kind: "load",
  index: 0,
  id: "whey-vat",
  topic: "dairy/vat/set",
  payloads: ["stop"],
  setPoint: { payload: ["", " W"], unitW: 1, decimals: 0, minW: 200, stepW: 50 },
  ...TIMING,
};

const LAMP: ActuatorSettings = {
  kind: "warning",
  index: 1,
  id: "workshop",
  topic: "workshop/lamp/set",
  payloads: ["dark", "light"],
  setPoint: null,
  ...TIMING,
};

function actuators(): readonly ActuatorSettings[] {
  const [, pump, panel] = testActuators();
  if (pump === undefined || panel === undefined) throw new Error();
  return [WHEY_VAT, { ...pump, id: "workshop", topic: "workshop/set" }, LAMP, panel];
}

function setUp() {
  const clock = createManualClock();
  const sent: Command[] = [];
  const { log } = createMemoryLog();
  const switching = createSwitching({
    links: planLinks("malga", actuators()).map((plan) => ({
      plan,
      publish: (command: Command) => {
        sent.push(command);
        return Promise.resolve(true);
      },
    })),
    clock,
    log,
    decisionMaxAgeMs: 10_000,
  });
  const take = () => sent.splice(0).map(({ topic, payload }) => `${topic} ${payload}`);
  switching.linkUp("malga-switching");
  const first = take();
  const apply = (powerW: number, more: { isWarned?: boolean; sockets?: number } = {}) => {
    switching.apply({
      loadStages: [powerW > 0 ? 1 : 0, more.sockets ?? 0],
      loadPowersW: [powerW, 300],
      loadWarnings: [false, more.isWarned ?? false],
      panelsClosed: [false],
    });
  };
  return { clock, sent, switching, first, take, apply };
}

describe("a load whose power can be set", () => {
  test("is told off first, as everything else", () => {
    expect(setUp().first).toEqual([
      "dairy/vat/set stop",
      "workshop/set 0",
      "workshop/lamp/set dark",
      "shed/contactor/set 0",
    ]);
  });

  test("is told a new power at once if it differs by a step", () => {
    const { take, apply } = setUp();
    for (const powerW of [500, 500, 549, 550, 501, 499, 0]) apply(powerW);
    expect(take()).toEqual([
      "dairy/vat/set 500 W",
      "dairy/vat/set 550 W",
      "dairy/vat/set 499 W",
      "dairy/vat/set stop",
    ]);
  });

  test("is told a smaller change with the next repeat", () => {
    const { take, apply, clock } = setUp();
    apply(500);
    take();
    for (let passedMs = 0; passedMs < 30_000; passedMs += 2_000) {
      apply(530);
      clock.advance(2_000);
    }
    expect(take().filter((line) => line.startsWith("dairy"))).toEqual(["dairy/vat/set 530 W"]);
  });

  test("counts the next step from what the repeat has told", () => {
    const { take, apply, clock } = setUp();
    apply(500);
    clock.advance(29_000);
    apply(540);
    clock.advance(1_000);
    take();
    apply(560);
    expect(take()).toEqual([]);
    apply(590);
    expect(take()).toEqual(["dairy/vat/set 590 W"]);
  });

  test.each([Number.NaN, 0, -5])("allotted %d W is off, whatever its stage says", (powerW) => {
    const { take, apply, switching } = setUp();
    apply(500);
    take();
    switching.apply({
      loadStages: [1, 0],
      loadPowersW: [powerW],
      loadWarnings: [],
      panelsClosed: [false],
    });
    expect(take()).toEqual(["dairy/vat/set stop"]);
  });

  test("takes less before another load starts, and more after another has stopped", () => {
    const { take, apply } = setUp();
    apply(1500);
    take();
    apply(800, { sockets: 1 });
    expect(take()).toEqual(["dairy/vat/set 800 W", "workshop/set 1"]);
    apply(1500);
    expect(take()).toEqual(["workshop/set 0", "dairy/vat/set 1500 W"]);
  });

  test("expires in the broker within its hold; off never", () => {
    const { sent, apply } = setUp();
    apply(500);
    expect(sent.at(-1)).toMatchObject({ payload: "500 W", messageExpiryS: 90, isRetained: false });
    apply(0);
    expect(sent.at(-1)).toMatchObject({ payload: "stop", messageExpiryS: null });
  });

  test("is switched off, not repeated, if decisions stop coming", () => {
    const { take, apply, clock } = setUp();
    apply(500);
    take();
    clock.advance(30_000);
    expect(take()).toContain("dairy/vat/set stop");
    clock.advance(90_000);
    expect(take().filter((line) => line.endsWith(" W"))).toEqual([]);
  });

  test("after a break of the connection is not set again by itself", () => {
    const { take, apply, clock, switching } = setUp();
    apply(500);
    switching.linkDown("malga-switching");
    take();
    switching.linkUp("malga-switching");
    clock.advance(60_000);
    expect(take().filter((line) => line.endsWith(" W"))).toEqual([]);
  });
});

describe("a lamp that warns", () => {
  test("is switched by the decision and repeated while it is on", () => {
    const { take, apply, clock } = setUp();
    apply(0, { sockets: 1 });
    take();
    apply(0, { sockets: 1, isWarned: true });
    expect(take()).toEqual(["workshop/lamp/set light"]);
    for (let passedMs = 0; passedMs < 30_000; passedMs += 2_000) {
      apply(0, { sockets: 1, isWarned: true });
      clock.advance(2_000);
    }
    expect(take()).toContain("workshop/lamp/set light");
    apply(0);
    expect(take()).toEqual(["workshop/set 0", "workshop/lamp/set dark"]);
  });
});
