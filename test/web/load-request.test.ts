/** Asking a load to run or to stay off, over HTTP. */
import { describe, expect, test } from "vitest";
import type { LoadOrder } from "../../service/requests.ts";
import type { LoadView } from "../../service/state-view.ts";
import type { WebSource } from "../../service/web/source.ts";
import { createTestApp, stateOf, TOKEN } from "../support/web-app.ts";

const bearer = { authorization: `Bearer ${TOKEN}` };
const url = "/api/loads/water-heater/request";
const HOUR_S = 3_600;

function appThat(load: Partial<LoadView> | null) {
  const orders: (readonly [string, LoadOrder])[] = [];
  const requestLoad: WebSource["requestLoad"] = (id, order) => {
    const [first] = stateOf("fresh").loads;
    if (id !== "water-heater" || first === undefined) return null;
    orders.push([id, order]);
    return Promise.resolve(load === null ? null : { ...first, ...load });
  };
  const { app } = createTestApp({ requestLoad });
  const post = (payload: object | string, headers: object = bearer) =>
    app.inject({
      method: "POST",
      url,
      headers: { "content-type": "application/json", ...headers },
      payload,
    });
  return { app, post, orders };
}

const asked = (wants: "run" | "hold") => ({
  asked: { wants, until: "2026-03-02T14:20:00.000Z", remainingS: 1_800 },
});

describe("a load that is asked", () => {
  test.each([
    [{ request: "run", forS: 1_800 }, { request: "run", forMs: 1_800_000 }, asked("run")],
    [{ request: "run" }, { request: "run", forMs: HOUR_S * 1000 }, asked("run")],
    [{ request: "hold", forS: 12 * HOUR_S }, { request: "hold", forMs: 43_200_000 }, asked("hold")],
    [{ request: "release" }, { request: "release", forMs: 0 }, { asked: null }],
  ] as const)("%o", async (body, order, load) => {
    const { post, orders } = appThat(load);
    const answer = await post(body);
    expect(answer.statusCode).toBe(200);
    expect(answer.json()).toMatchObject({ load: { id: "water-heater", ...load } });
    expect(orders).toEqual([["water-heater", order]]);
  });

  test("and cannot says why, in words", async () => {
    const sentence = "off: the tank is at 75.0 °C, limit 75.0 °C";
    const { post } = appThat({ asked: null, sentence });
    const answer = await post({ request: "run", forS: 60 });
    expect(answer.statusCode).toBe(409);
    expect(answer.json()).toMatchObject({
      type: "urn:bywash:problem:load-refused",
      detail: sentence,
    });
  });

  test("while nothing is decided is told so", async () => {
    const answer = await appThat(null).post({ request: "hold" });
    expect(answer.statusCode).toBe(503);
  });
});

describe("nothing is asked", () => {
  test.each([
    ["no token", { request: "run" }, {}, 401],
    ["another site's page", { request: "run" }, { ...bearer, origin: "http://evil.example" }, 403],
    ["an unknown request", { request: "dance" }, bearer, 400],
    ["no time at all", { request: "run", forS: 0 }, bearer, 400],
    ["more than half a day", { request: "run", forS: 12 * HOUR_S + 1 }, bearer, 400],
    ["a time in words", { request: "hold", forS: "1 h" }, bearer, 400],
    ["a release for a time", { request: "release", forS: 60 }, bearer, 400],
    ["something besides", { request: "run", stage: 2 }, bearer, 400],
    ["no body", "", bearer, 400],
  ])("with %s", async (_name, body, headers, status) => {
    const { post, orders } = appThat(asked("run"));
    expect((await post(body, headers)).statusCode).toBe(status);
    expect(orders).toEqual([]);
  });

  test("of a load that is not there", async () => {
    const { app } = appThat(asked("run"));
    const answer = await app.inject({
      method: "POST",
      url: "/api/loads/sauna/request",
      headers: bearer,
      payload: { request: "run" },
    });
    expect(answer.statusCode).toBe(404);
  });
});
