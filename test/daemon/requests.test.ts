import { expect, test } from "vitest";
import { createRequests } from "../../service/requests.ts";
import { testControl } from "../support/site.ts";

test("a request counts for the load or panel it names, and for one tick", () => {
  let askedCount = 0;
  const requests = createRequests(testControl(), () => (askedCount += 1));
  expect(requests.askClear("load", "water-heater")).toBe(true);
  expect(askedCount).toBe(1);
  expect(requests.loadRequest("water-heater")).toMatchObject({ request: "clear", forMs: 0 });
  expect(requests.loadRequest("spring-pump")).toEqual({ request: "none", forMs: 0 });
  expect(requests.panelRequest("surplus")).toBe("none");
  requests.forget();
  expect(requests.loadRequest("water-heater")).toEqual({ request: "none", forMs: 0 });
});

test("what the site does not have cannot be asked", () => {
  let askedCount = 0;
  const requests = createRequests(testControl(), () => (askedCount += 1));
  expect(requests.askClear("load", "surplus")).toBe(false);
  expect(requests.askLoad("surplus", { request: "run", forMs: 1 })).toBeNull();
  expect(askedCount).toBe(0);
  expect(requests.askClear("panel", "surplus")).toBe(true);
  expect(requests.panelRequest("surplus")).toBe("clear");
  expect(requests.loadRequest("surplus")).toEqual({ request: "none", forMs: 0 });
});

test("what is learned can be asked to be forgotten, one thing at a tick", () => {
  let askedCount = 0;
  const requests = createRequests(testControl(), () => (askedCount += 1));
  expect(requests.unlearnRequest()).toBe("none");
  for (const what of ["base", "load.spring-pump", "base", "sky", "array.roof"]) {
    expect(requests.askUnlearn(what)).toBe(true);
  }
  for (const what of ["none", "spring-pump", "load.", "array.barn", "load.surplus", ""]) {
    expect(requests.askUnlearn(what)).toBe(false);
  }
  expect(askedCount).toBe(5);
  const seen: string[] = [];
  for (let tick = 0; tick < 5; tick += 1) {
    seen.push(requests.unlearnRequest());
    requests.forget();
  }
  expect(seen).toEqual(["base", "load.spring-pump", "sky", "array.roof", "none"]);
  // Each of them but the last asks for the next tick.
  expect(askedCount).toBe(8);
});

test("of several requests to one load, each has its tick, and an answer after it", async () => {
  let askedCount = 0;
  const requests = createRequests(testControl(), () => (askedCount += 1));
  const answered: string[] = [];
  const ask = (request: "run" | "hold" | "release") =>
    requests
      .askLoad("water-heater", { request, forMs: 60_000 })
      ?.then(() => answered.push(request));
  void ask("run");
  void ask("hold");
  expect(requests.loadRequest("water-heater")).toMatchObject({ request: "run", forMs: 60_000 });
  requests.forget();
  expect(askedCount).toBe(3);
  await Promise.resolve();
  expect(answered).toEqual([]);
  requests.decided();
  expect(requests.loadRequest("water-heater")).toMatchObject({ request: "hold" });
  await Promise.resolve();
  expect(answered).toEqual(["run"]);
  requests.forget();
  requests.decided();
  await Promise.resolve();
  expect(answered).toEqual(["run", "hold"]);
});

test("whoever asks too often has the last word, and nobody waits for ever", async () => {
  const requests = createRequests(testControl(), () => undefined);
  const answered: number[] = [];
  for (let at = 0; at < 9; at += 1) {
    const order = { request: at === 8 ? "hold" : "run", forMs: 1 } as const;
    void requests.askLoad("water-heater", order)?.then(() => answered.push(at));
  }
  const seen: string[] = [];
  for (let tick = 0; tick < 5; tick += 1) {
    seen.push(requests.loadRequest("water-heater").request);
    requests.forget();
    requests.decided();
  }
  expect(seen).toEqual(["run", "run", "run", "hold", "none"]);
  await Promise.resolve();
  expect(answered.sort()).toEqual([0, 1, 2, 3, 4, 5, 6, 7, 8]);
});
