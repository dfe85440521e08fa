import fc from "fast-check";
import { expect, test } from "vitest";
import { modulatedW } from "../../simulator/plant/modulating-load.ts";
import { createProgramme, programmePowerW } from "../../simulator/plant/programme.ts";
import { advanceSockets, createSockets, socketsPowerW } from "../../simulator/plant/sockets.ts";

const WASH = {
  id: "wash",
  parts: [
    { powerW: 2100, durationS: 1200 },
    { powerW: 250, durationS: 3600 },
  ],
  startMinutes: [600],
};

test.each([1, 7, 60, 900])("a programme's energy is that of its parts, in steps of %d s", (dtS) => {
  const programme = createProgramme(WASH);
  let energyWh = 0;
  for (let atS = 0; atS < 86_400; atS += dtS) {
    energyWh += (programmePowerW(programme, atS / 60, dtS) * dtS) / 3600;
  }
  // 2.1 kW for 20 min and 250 W for an hour.
  expect(energyWh).toBeCloseTo(700 + 250, 6);
});

test("a programme begins at its minute, once, and looking at an instant starts nothing", () => {
  const programme = createProgramme(WASH);
  expect(programmePowerW(programme, 600, 0)).toBe(0);
  expect(programmePowerW(programme, 599, 60)).toBe(0);
  expect(programmePowerW(programme, 600, 30)).toBe(2100);
  expect(programmePowerW(programme, 600, 30)).toBe(2100);
  expect(programme.ranS).toBe(60);
});

test("a set-point becomes the device's own step below it, within its limits", () => {
  const device = { minW: 300, maxW: 3000, stepW: 100 };
  const expected = [
    [0, 0],
    [299.9, 0],
    [300, 300],
    [399.9, 300],
    [400, 400],
    [2999, 2900],
    [3000, 3000],
    [9000, 3000],
  ] as const;
  for (const [setW, powerW] of expected) expect(modulatedW(setW, device)).toBe(powerW);
  fc.assert(
    fc.property(fc.double({ min: 0, max: 5000, noNaN: true }), (setW) => {
      const powerW = modulatedW(setW, device);
      expect(powerW).toBeLessThanOrEqual(setW + 1e-6);
      expect(powerW === 0 || powerW >= device.minW).toBe(true);
    }),
  );
});

test("sockets: used now and then while live, never above the largest, dead behind the panel", () => {
  const sockets = createSockets({ largestW: 2000, seed: 7 });
  let usedMinutes = 0;
  let uses = 0;
  let beforeW = 0;
  for (let minute = 0; minute < 14_400; minute += 1) {
    advanceSockets(sockets, true, 60);
    const powerW = socketsPowerW(sockets, true);
    expect(powerW).toBeLessThanOrEqual(2000);
    expect(socketsPowerW(sockets, false)).toBe(0);
    expect(sockets.isPressed).toBe(false);
    if (powerW > 0) usedMinutes += 1;
    if (powerW > 0 && beforeW === 0) uses += 1;
    beforeW = powerW;
  }
  // 40 min idle and 15 min in use on average: 10 days hold some 260 uses.
  expect(uses).toBeGreaterThan(200);
  expect(uses).toBeLessThan(320);
  expect(usedMinutes / 14_400).toBeGreaterThan(0.2);
  expect(usedMinutes / 14_400).toBeLessThan(0.35);
});

test("on a dead panel a wish becomes a press of the button", () => {
  const sockets = createSockets({ largestW: 2000, seed: 7 });
  let presses = 0;
  for (let minute = 0; minute < 14_400; minute += 1) {
    advanceSockets(sockets, false, 60);
    if (sockets.isPressed) presses += 1;
  }
  expect(presses).toBeGreaterThan(200);
});
