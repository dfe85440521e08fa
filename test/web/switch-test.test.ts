/** Having a load switched once, over HTTP: only for whoever may write and says he stands by. */
import { describe, expect, test } from "vitest";
import type { SwitchTestView, TestBegin } from "../../service/switch-test/switch-test.ts";
import { createTestApp, stateOf, TOKEN } from "../support/web-app.ts";

const bearer = { authorization: `Bearer ${TOKEN}` };
const STANDS_BY = { somebodyStandsBy: true };
const UNDER_WAY: SwitchTestView = {
  id: "water-heater",
  label: "Water heater",
  phase: "on",
  on: [{ by: "report", result: "seen", afterS: 1.2, stepW: null }],
  off: [],
  isProven: false,
  outcome: null,
};

function appThat(begun: TestBegin) {
  const ids: string[] = [];
  const { app } = createTestApp({
    state: () => ({ ...stateOf("fresh"), switchTest: UNDER_WAY }),
    testSwitch(id) {
      ids.push(id);
      return begun;
    },
  });
  const post = (payload: object | string, headers: object = bearer) =>
    app.inject({
      method: "POST",
      url: "/api/loads/water-heater/test",
      headers: { "content-type": "application/json", ...headers },
      payload,
    });
  return { post, ids };
}

const begun = { kind: "begun", decided: Promise.resolve() } as const;

test("a test that has begun is answered with how far it is", async () => {
  const { post, ids } = appThat(begun);
  const answer = await post(STANDS_BY);
  expect(answer.statusCode).toBe(200);
  expect(answer.json()).toEqual({ switchTest: UNDER_WAY });
  expect(ids).toEqual(["water-heater"]);
});

test("one that may not begin says why", async () => {
  const { post } = appThat({ kind: "refused", why: "it is on already" });
  const answer = await post(STANDS_BY);
  expect(answer.statusCode).toBe(409);
  expect(answer.json()).toMatchObject({ detail: "it is on already" });
});

test("one on which nothing is decided says so", async () => {
  const { post } = appThat({ kind: "begun", decided: new Promise(() => undefined) });
  expect((await post(STANDS_BY)).statusCode).toBe(503);
});

describe("nothing is switched", () => {
  test.each([
    ["no token", STANDS_BY, {}, 401],
    ["another site's page", STANDS_BY, { ...bearer, origin: "http://evil.example" }, 403],
    ["nobody standing by", { somebodyStandsBy: false }, bearer, 400],
    ["nothing said of that", {}, bearer, 400],
    ["no body", "", bearer, 400],
  ])("with %s", async (_name, body, headers, status) => {
    const { post, ids } = appThat(begun);
    expect((await post(body, headers)).statusCode).toBe(status);
    expect(ids).toEqual([]);
  });
});
