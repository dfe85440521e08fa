import { expect, test } from "vitest";
import { createAlerts } from "../../service/alerts.ts";
import type { Alert } from "../../service/alerts.ts";
import type { EventView } from "../../service/event-view.ts";

const TANK_HOT: EventView = {
  at: "2026-06-15T10:00:00.000Z",
  about: "load",
  id: "water-heater",
  label: "Water heater",
  change: "raised",
  code: "tank-hot",
  severity: "alarm",
  sentence: "off: the tank is at 76.0 °C, limit 75.0 °C",
};
const OVER: EventView = { ...TANK_HOT, change: "cleared", sentence: null };

function setUp() {
  const told: Alert[] = [];
  const link = { isUp: true };
  const alerts = createAlerts((alert) => {
    if (link.isUp) told.push(alert);
    return Promise.resolve(link.isUp);
  });
  const sentences = (): string[] => told.map(({ change, sentence }) => `${change} ${sentence}`);
  return { alerts, link, told, sentences };
}

const settled = (): Promise<void> => Promise.resolve();

test("an alarm is told once when raised and once when over, in words that name its owner", () => {
  const { alerts, told, sentences } = setUp();
  alerts.tell([TANK_HOT]);
  alerts.tell([]);
  alerts.tell([OVER]);
  expect(sentences()).toEqual([
    "raised Water heater: off: the tank is at 76.0 °C, limit 75.0 °C",
    "cleared over: Water heater: off: the tank is at 76.0 °C, limit 75.0 °C",
  ]);
  expect(told[0]).toMatchObject({ code: "tank-hot", severity: "alarm", about: "load" });
  expect(told.map(({ isTest }) => isTest)).toEqual([false, false]);
});

test("what is no alarm is no alert", () => {
  const { alerts, told } = setUp();
  alerts.tell([
    { ...TANK_HOT, severity: "warning" },
    { ...TANK_HOT, change: "started" },
  ]);
  alerts.tell([{ ...OVER, severity: "warning" }]);
  expect(told).toEqual([]);
});

test("raised without the broker, it is told when the broker is back and it still holds", async () => {
  const { alerts, link, sentences } = setUp();
  link.isUp = false;
  alerts.tell([TANK_HOT]);
  await settled();
  link.isUp = true;
  alerts.up();
  await settled();
  alerts.up();
  expect(sentences()).toHaveLength(1);
  alerts.tell([OVER]);
  expect(sentences()).toHaveLength(2);
});

test("come and gone without the broker, it is told to nobody", async () => {
  const { alerts, link, told } = setUp();
  link.isUp = false;
  alerts.tell([TANK_HOT]);
  await settled();
  alerts.tell([OVER]);
  link.isUp = true;
  alerts.up();
  expect(told).toEqual([]);
});

test("two alarms of one load are told apart", () => {
  const { alerts, sentences } = setUp();
  alerts.tell([TANK_HOT, { ...TANK_HOT, code: "latched-welded", sentence: "latched off" }]);
  alerts.tell([OVER]);
  expect(sentences()).toHaveLength(3);
  expect(sentences()[2]).toContain("76.0 °C");
});
