/** Other settings under a switching that runs. */
import { describe, expect, test } from "vitest";
import type { ActuatorSettings } from "../../config/site-settings.ts";
import { keptActuators, refitted } from "../../service/refit.ts";
import { createSwitching } from "../../service/switching/actuators.ts";
import type { Command } from "../../service/switching/links.ts";
import { planLinks } from "../../service/switching/links.ts";
import { createMemoryLog } from "../support/log.ts";
import { createManualClock } from "../support/manual-clock.ts";
import { testActuators, testBroker, testSite } from "../support/site.ts";

const MAX_AGE_MS = 10_000;
const ON = {
  loadStages: [2, 1],
  loadPowersW: [2000, 750],
  loadWarnings: [false, false],
  panelsClosed: [true],
};

function setUp() {
  const clock = createManualClock();
  const sent: Command[] = [];
  const linksFor = (actuators: readonly ActuatorSettings[]) =>
    planLinks("malga", actuators).map((plan) => ({
      plan,
      publish: (command: Command) => {
        sent.push(command);
        return Promise.resolve(true);
      },
    }));
  const switching = createSwitching({
    links: linksFor(testActuators()),
    clock,
    log: createMemoryLog().log,
    decisionMaxAgeMs: MAX_AGE_MS,
  });
  const take = () => sent.splice(0).map(({ topic, payload }) => `${topic} ${payload}`);
  switching.linkUp("malga-switching");
  switching.apply(ON);
  take();
  const refit = (actuators: readonly ActuatorSettings[]) =>
    void switching.refit(linksFor(actuators), MAX_AGE_MS);
  return { clock, switching, take, refit };
}

function changed(place: number, over: Partial<ActuatorSettings>): ActuatorSettings[] {
  return testActuators().map((one, index) => (index === place ? { ...one, ...over } : one));
}

describe("the same actuators", () => {
  test("are told nothing, and are repeated as before", () => {
    const { clock, switching, take, refit } = setUp();
    refit(testActuators());
    switching.apply(ON);
    expect(take()).toEqual([]);
    for (let passedMs = 0; passedMs < 30_000; passedMs += 2_000) {
      switching.apply(ON);
      clock.advance(2_000);
    }
    expect(take().sort()).toEqual([
      "shed/contactor/set 1",
      'shed/heater/set {"stage":2}',
      "shed/pump/set 1",
    ]);
  });

  test("may stand elsewhere in the list, and have other times", () => {
    const { clock, switching, take, refit } = setUp();
    const [heater, pump, panel] = testActuators();
    refit([
      { ...pump!, index: 0, repeatMs: 10_000, holdMs: 25_000 },
      { ...heater!, index: 1 },
      panel!,
    ]);
    const swapped = { ...ON, loadStages: [1, 2], loadPowersW: [750, 2000] };
    switching.apply(swapped);
    expect(take()).toEqual([]);
    for (let passedMs = 0; passedMs < 10_000; passedMs += 2_000) {
      switching.apply(swapped);
      clock.advance(2_000);
    }
    expect(take()).toEqual(["shed/pump/set 1"]);
  });
});

describe("other actuators", () => {
  test("one that goes is told OFF and never ON again", () => {
    const { clock, switching, take, refit } = setUp();
    const [heater, , panel] = testActuators();
    refit([heater!, panel!]);
    expect(take()).toEqual(["shed/pump/set 0"]);
    for (let passedMs = 0; passedMs < 120_000; passedMs += 2_000) {
      switching.apply({ ...ON, loadStages: [2], loadPowersW: [2000] });
      clock.advance(2_000);
    }
    expect(take().filter((text) => text.startsWith("shed/pump"))).toEqual([]);
  });

  test("one that is wired anew is told OFF where it was and where it is", () => {
    const { switching, take, refit } = setUp();
    refit(changed(1, { topic: "shed/pump2/set" }));
    expect(take()).toEqual(["shed/pump/set 0", "shed/pump2/set 0"]);
    switching.apply(ON);
    expect(take()).toEqual(["shed/pump2/set 1"]);
  });

  test("a panel of another topic takes the link with it: all are told OFF", () => {
    const { take, refit } = setUp();
    refit(changed(2, { topic: "shed/main/set" }));
    // Those over the new link follow when it is up.
    expect(take().slice(0, 3)).toEqual([
      'shed/heater/set {"stage":0}',
      "shed/pump/set 0",
      "shed/contactor/set 0",
    ]);
  });
});

describe("what stays", () => {
  const site = testSite();

  test("is what is told the same things over the same link", () => {
    const same = keptActuators(site, { ...site, actuators: changed(0, { repeatMs: 20_000 }) });
    expect([...same.loads].sort()).toEqual(["spring-pump", "water-heater"]);
    expect([...same.panels]).toEqual(["surplus"]);
    const payloads = ["0", "1", "2"];
    const told = keptActuators(site, { ...site, actuators: changed(0, { payloads }) });
    expect([...told.loads]).toEqual(["spring-pump"]);
    const moved = keptActuators(site, { ...site, actuators: changed(2, { topic: "elsewhere" }) });
    expect([...moved.loads, ...moved.panels]).toEqual([]);
    const renamed = keptActuators(site, { ...site, id: "alp" });
    expect([...renamed.loads, ...renamed.panels]).toEqual([]);
  });

  test("name, broker and web server stay until a restart, and that is said", () => {
    const next = testSite({ id: "alp", label: "Alp", broker: testBroker("mqtt://other") });
    const result = refitted(site, next);
    expect(result.needsRestart).toEqual(["site.id", "broker"]);
    expect(result.site).toEqual({ ...next, id: site.id, broker: site.broker });
    const web = { ...site.web, port: 9 };
    expect(refitted(site, testSite({ web })).needsRestart).toEqual(["web"]);
    expect(refitted(site, testSite()).needsRestart).toEqual([]);
  });
});
