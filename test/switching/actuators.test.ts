import { describe, expect, test } from "vitest";
import { createSwitching } from "../../service/switching/actuators.ts";
import type { Command } from "../../service/switching/links.ts";
import { planLinks } from "../../service/switching/links.ts";
import { createMemoryLog } from "../support/log.ts";
import { createManualClock } from "../support/manual-clock.ts";
import { testActuators } from "../support/site.ts";

const NOT_SET = { loadPowersW: [], loadWarnings: [] };
const OFF = { ...NOT_SET, loadStages: [0, 0], panelsClosed: [false] };
const DECISION_MAX_AGE_MS = 10_000;

function setUp(isAcknowledged = true) {
  const clock = createManualClock();
  const sent: Command[] = [];
  const { log, lines } = createMemoryLog();
  const switching = createSwitching({
    links: planLinks("malga", testActuators()).map((plan) => ({
      plan,
      publish: (command: Command) => {
        sent.push(command);
        return Promise.resolve(isAcknowledged);
      },
    })),
    clock,
    log,
    decisionMaxAgeMs: DECISION_MAX_AGE_MS,
  });
  const take = () => sent.splice(0).map(({ topic, payload }) => `${topic} ${payload}`);
  /** Decides the same again every 2 s, as the ticker does. */
  const runFor = (ms: number, wanted: Parameters<typeof switching.apply>[0]) => {
    for (let passedMs = 0; passedMs < ms; passedMs += 2_000) {
      switching.apply(wanted);
      clock.advance(2_000);
    }
  };
  return { clock, sent, switching, take, lines, runFor };
}

const HEATER_ON = { ...NOT_SET, loadStages: [1, 0], panelsClosed: [true] };
const ALL_OFF = ['shed/heater/set {"stage":0}', "shed/pump/set 0", "shed/contactor/set 0"];

describe("connecting", () => {
  test("the first word to every actuator is OFF, loads before the contactor", () => {
    const { switching, take } = setUp();
    switching.linkUp("malga-switching");
    expect(take()).toEqual(ALL_OFF);
  });

  test("nothing is sent while the link is down, and nothing of it later", () => {
    const { switching, take, clock } = setUp();
    switching.apply(HEATER_ON);
    clock.advance(100_000);
    expect(take()).toEqual([]);
    switching.linkUp("malga-switching");
    expect(take()).toEqual(ALL_OFF);
  });

  test("after a break an ON is not repeated by itself", () => {
    const { switching, take, clock } = setUp();
    switching.linkUp("malga-switching");
    switching.apply(HEATER_ON);
    switching.linkDown("malga-switching");
    take();
    clock.advance(5_000);
    switching.linkUp("malga-switching");
    clock.advance(60_000);
    expect(take().filter((line) => !/ (0|\{"stage":0\})$/u.test(line))).toEqual([]);
  });
});

describe("order", () => {
  test("the contactor closes before its loads start, and opens after they stop", () => {
    const { switching, take } = setUp();
    switching.linkUp("malga-switching");
    take();
    switching.apply({ ...NOT_SET, loadStages: [2, 1], panelsClosed: [true] });
    expect(take()).toEqual([
      "shed/contactor/set 1",
      'shed/heater/set {"stage":2}',
      "shed/pump/set 1",
    ]);
    switching.apply(OFF);
    expect(take()).toEqual(ALL_OFF);
  });

  test("what stops goes before what starts", () => {
    const { switching, take } = setUp();
    switching.linkUp("malga-switching");
    switching.apply({ ...NOT_SET, loadStages: [1, 0], panelsClosed: [true] });
    take();
    switching.apply({ ...NOT_SET, loadStages: [0, 1], panelsClosed: [true] });
    expect(take()).toEqual(['shed/heater/set {"stage":0}', "shed/pump/set 1"]);
  });
});

describe("repeating", () => {
  test("ON every repeat time while it is wanted, with no word in between", () => {
    const { switching, take, runFor } = setUp();
    switching.linkUp("malga-switching");
    runFor(90_000, OFF);
    take();
    runFor(28_000, HEATER_ON);
    expect(take()).toEqual(["shed/contactor/set 1", 'shed/heater/set {"stage":1}']);
    runFor(2_000, HEATER_ON);
    expect(take()).toEqual(["shed/contactor/set 1", 'shed/heater/set {"stage":1}']);
    runFor(60_000, HEATER_ON);
    expect(take()).toHaveLength(4);
  });

  test("OFF twice more, then quiet", () => {
    const { switching, take, runFor } = setUp();
    switching.linkUp("malga-switching");
    runFor(30_000, OFF);
    expect(take()).toHaveLength(6);
    runFor(30_000, OFF);
    expect(take()).toHaveLength(3);
    runFor(600_000, OFF);
    expect(take()).toEqual([]);
  });

  test("a change of stage is sent at once and starts the repeat time anew", () => {
    const { switching, take, clock, runFor } = setUp();
    switching.linkUp("malga-switching");
    runFor(10_000, { ...NOT_SET, loadStages: [1, 0], panelsClosed: [false] });
    take();
    const second = { ...NOT_SET, loadStages: [2, 0], panelsClosed: [false] };
    switching.apply(second);
    expect(take()).toEqual(['shed/heater/set {"stage":2}']);
    runFor(28_000, second);
    clock.advance(1_999);
    expect(take().filter((line) => line.startsWith("shed/heater"))).toEqual([]);
    clock.advance(1);
    expect(take()).toContain('shed/heater/set {"stage":2}');
  });

  test("if decisions stop coming, OFF takes the place of the next ON", () => {
    const { switching, take, clock, lines } = setUp();
    switching.linkUp("malga-switching");
    switching.apply(HEATER_ON);
    take();
    clock.advance(30_000);
    expect(take()).toEqual(expect.arrayContaining(['shed/heater/set {"stage":0}']));
    clock.advance(90_000);
    expect(take().filter((line) => line.endsWith("1") || line.endsWith("1}"))).toEqual([]);
    expect(lines).toContain("error no decision for too long; switched off");
  });
});

describe("every command", () => {
  test("is QoS 1 and not retained; ON expires within the hold time, OFF never", () => {
    const { switching, sent } = setUp();
    switching.linkUp("malga-switching");
    switching.apply({ ...NOT_SET, loadStages: [2, 1], panelsClosed: [true] });
    expect(sent).toHaveLength(6);
    for (const command of sent) {
      expect(command).toMatchObject({ qos: 1, isRetained: false });
      const isOff = command.payload === "0" || command.payload === '{"stage":0}';
      expect(command.messageExpiryS).toBe(isOff ? null : 90);
    }
  });

  test("to a stage that does not exist is a programmer's error", async () => {
    const { switching } = setUp();
    switching.linkUp("malga-switching");
    expect(() =>
      switching.apply({ ...NOT_SET, loadStages: [3, 0], panelsClosed: [false] }),
    ).toThrow("no stage 3");
  });
});

describe("the end", () => {
  test("all off, and nothing on after it", async () => {
    const { switching, take, clock } = setUp();
    switching.linkUp("malga-switching");
    switching.apply(HEATER_ON);
    take();
    await expect(switching.allOff()).resolves.toBe(true);
    expect(take()).toEqual(ALL_OFF);
    switching.apply(HEATER_ON);
    clock.advance(100_000);
    expect(take()).toEqual([]);
  });

  test("an OFF that was not acknowledged is known", async () => {
    const { switching, lines } = setUp(false);
    switching.linkUp("malga-switching");
    await expect(switching.allOff()).resolves.toBe(false);
    expect(lines).toContain("warn command was not acknowledged");
  });
});

describe("links", () => {
  test("each contactor has a connection of its own, whose will is its OFF", () => {
    const [heater, pump, surplus] = testActuators();
    if (heater === undefined || pump === undefined || surplus === undefined) throw new Error();
    const barn = { ...surplus, index: 1, id: "barn", topic: "shed/barn/set" };
    const plans = planLinks("malga", [heater, surplus, pump, barn]);
    expect(plans.map(({ clientId, will }) => [clientId, will])).toEqual([
      ["malga-switching", { topic: "shed/contactor/set", payload: "0", isRetained: false }],
      ["malga-switching-barn", { topic: "shed/barn/set", payload: "0", isRetained: false }],
    ]);
    expect(plans.map(({ actuators }) => actuators.map(({ id }) => id))).toEqual([
      ["water-heater", "spring-pump", "surplus"],
      ["barn"],
    ]);
    expect(planLinks("malga", [heater])).toEqual([
      { clientId: "malga-switching", will: null, actuators: [heater] },
    ]);
    expect(planLinks("malga", [])).toEqual([]);
  });
});
