import { describe, expect, it } from "vitest";
import { initialPotential } from "../../service/control/potential-memory.ts";
import type { PotentialMemory } from "../../service/control/potential-memory.ts";
import { potentialAgain } from "../../service/control/restored-potential.ts";
import { MINUTE_MS, site } from "./given.ts";

const blank = initialPotential(site());
const bridge = { gapMs: MINUTE_MS, past: (atMs: number) => atMs - 1000 };

const learned: PotentialMemory = {
  responses: blank.responses.map((response) => ({
    ...response,
    generalFraction: 0.85,
    cells: response.cells.with(300, 0.7).with(301, 0.4),
    weights: response.weights.with(300, 0.9).with(301, 0.2),
    plane: { ...response.plane, normal: { east: 0.1, north: -0.6, up: 0.7 } },
  })),
  slot: { slot: 1, measuredW: [1], modelW: [1], ticks: [1] },
  sky: {
    clearness: 0.6,
    slowClearness: 0.7,
    seenAtMs: 5000,
    sensorFactor: 0.9,
    sensorSeenMs: 7_200_000,
    sensorSpread: 0.06,
  },
};

const sensorAlone = {
  ...blank.sky,
  sensorFactor: 0.9,
  sensorSeenMs: 3_600_000,
  sensorSpread: 0.06,
};

function again(saved: unknown, over: Partial<typeof bridge> | { gapMs: null } = {}) {
  const given: unknown = JSON.parse(JSON.stringify(saved));
  return potentialAgain(blank, given, { ...bridge, ...over });
}

describe("what was learned of the arrays, after a restart", () => {
  it("is known again, and the sky that was seen last, without the open stretch", () => {
    const found = again(learned);
    expect(found.responses).toStrictEqual(learned.responses);
    expect(found.slot).toBeNull();
    expect(found.sky).toMatchObject({ clearness: 0.6, slowClearness: 0.7, seenAtMs: 4000 });
  });

  it.each<[string, number | null]>([
    ["two hours", 120 * MINUTE_MS],
    ["nobody knows how long", null],
  ])("is known again after %s, but not the sky", (_name, gapMs) => {
    const found = potentialAgain(blank, learned, { ...bridge, gapMs });
    expect(found.responses).toStrictEqual(learned.responses);
    expect(found.sky).toEqual(sensorAlone);
  });

  it.each([
    { sensorFactor: 0, sensorSeenMs: 1 },
    { sensorFactor: -2, sensorSeenMs: 1 },
    { sensorFactor: 1.2, sensorSeenMs: -1 },
    { sensorFactor: "1", sensorSeenMs: 1 },
    { sensorFactor: 1.2 },
  ])("nothing is taken over of a light sensor that cannot be: %j", (sensor) => {
    const none = { sensorFactor: null, sensorSeenMs: null };
    const found = again({ ...learned, sky: Object.assign({ ...learned.sky }, none, sensor) });
    expect(found.sky).toMatchObject({ clearness: 0.6, sensorFactor: 1, sensorSeenMs: 0 });
  });

  it.each([null, "0.1", -0.01, 1.01])("a light sensor's spread of %j is not known", (spread) => {
    const found = again({ ...learned, sky: { ...learned.sky, sensorSpread: spread } });
    expect(found.sky).toMatchObject({ sensorFactor: 0.9, sensorSpread: blank.sky.sensorSpread });
  });

  it("is blank out of the file of a version that did not learn it", () => {
    expect(again(null)).toStrictEqual(blank);
    expect(again({})).toStrictEqual(blank);
    expect(again({ responses: "none", sky: 7 })).toStrictEqual(blank);
  });

  it("counts for half where a version before kept no weights", () => {
    const old = learned.responses.map(({ id, generalFraction, cells }) => ({
      ...{ id, generalFraction, cells },
    }));
    const [found] = again({ ...learned, responses: old }).responses;
    expect(found?.cells).toStrictEqual(learned.responses[0]?.cells);
    expect(found?.weights).toStrictEqual(blank.responses[0]?.weights.with(300, 0.5).with(301, 0.5));
    expect(found?.plane).toStrictEqual(blank.responses[0]?.plane);
  });

  it.each([0, -1, 1.2, "0.5", 1e300])("leaves out a place whose weight is %j", (weight) => {
    const [response] = learned.responses;
    const weights: unknown[] = [...(response?.weights ?? [])];
    weights[301] = weight;
    const [found] = again({ ...learned, responses: [{ ...response, weights }] }).responses;
    expect(found?.cells).toStrictEqual(response?.cells.with(301, null));
    expect(found?.weights).toStrictEqual(response?.weights.with(301, null));
  });

  it.each([
    { normal: null },
    { normal: { east: 0, north: 0 } },
    { normal: { east: 0, up: 1 } },
    { normal: { north: 0, up: 1 } },
    { normal: { east: 0, north: 9, up: 1 } },
    { doubt: null },
    { eastEast: 0 },
    { northNorth: -1 },
    { upUp: 1 },
    { eastNorth: 0.1 },
    { eastUp: null },
    { northUp: -0.1 },
  ])("takes the settings' plane where what was saved cannot be one: %j", (wrong) => {
    const [response] = learned.responses;
    const { normal = response?.plane.normal, doubt = response?.plane.doubt } = wrong;
    const plane = { normal, doubt: doubt === null ? null : { ...doubt, ...wrong } };
    const [found] = again({ ...learned, responses: [{ ...response, plane }] }).responses;
    expect(found?.plane).toStrictEqual(blank.responses[0]?.plane);
  });

  it("is of the array with the same id alone", () => {
    const other = learned.responses.map((response) => ({ ...response, id: "shed" }));
    expect(again({ ...learned, responses: other }).responses).toStrictEqual(blank.responses);
  });

  it("leaves nonsense out, number by number", () => {
    const [response] = learned.responses;
    const cells = response?.cells.map((cell, i) => (i < 4 ? [-1, 0, 1e300, "0.5"][i] : cell));
    const found = again({ responses: [{ ...response, generalFraction: -3, cells }], sky: {} });
    expect(found.responses[0]?.generalFraction).toBe(1);
    expect(found.responses[0]?.cells).toStrictEqual(learned.responses[0]?.cells);
    const short = again({ responses: [{ ...response, cells: [1, 1] }] });
    expect(short.responses[0]?.cells).toBe(blank.responses[0]?.cells);
  });

  it.each([
    ["clearness", -1],
    ["clearness", "clear"],
    ["seenAtMs", null],
    ["slowClearness", null],
  ])("takes no sky whose %s is %s", (key, value) => {
    expect(again({ ...learned, sky: { ...learned.sky, [key]: value } }).sky).toEqual(sensorAlone);
  });

  it("holds the sky within what a sky can be", () => {
    const sky = { ...learned.sky, clearness: 2.5, slowClearness: 7 };
    expect(again({ ...learned, sky }).sky).toMatchObject({ clearness: 1, slowClearness: 1 });
  });
});
