/** Replays over HTTP: who may begin one, what is refused, and how it ends. */
import { expect, test } from "vitest";
import type { WhatIfQuestion } from "../../service/what-if-contract.ts";
import type { DayFileAnswer, WhatIfDesk, WhatIfView } from "../../service/what-if-desk.ts";
import { createTestApp, TOKEN } from "../support/web-app.ts";

const BEGIN = "/api/days/2026-03-02/what-if";
const bearer = { authorization: `Bearer ${TOKEN}` };
const VIEW: WhatIfView = {
  formatVersion: 1,
  id: "one",
  state: "running",
  progress: { stage: "reading", share: 0 },
  problems: [],
  result: null,
};

function appWith(how: { readonly isBusy?: boolean; readonly file?: DayFileAnswer } = {}) {
  const asked: WhatIfQuestion[] = [];
  const cancelled: string[] = [];
  const whatIf: WhatIfDesk = {
    begin(question) {
      asked.push(question);
      return how.isBusy === true ? null : VIEW;
    },
    view: (id) => (id === "one" ? VIEW : null),
    cancel(id) {
      cancelled.push(id);
      return id === "one" ? { ...VIEW, state: "cancelled" } : null;
    },
    dayFile: () => Promise.resolve(how.file ?? { kind: "file", text: "time\n" }),
    close: () => Promise.resolve(),
  };
  return { ...createTestApp({ whatIf }), asked, cancelled };
}

const begun = (payload: object, url = BEGIN) =>
  ({ method: "POST", url, headers: bearer, payload }) as const;

test("a change is handed on as it was written", async () => {
  const { app, asked } = appWith();
  const set = { "loads.water-heater.start.aboveRuleCurve": "4 %", "ruleCurve.at": "90 %" };
  const response = await app.inject(begun({ set }));
  expect([response.statusCode, response.json()]).toEqual([202, VIEW]);
  expect(asked).toEqual([
    {
      localDay: Date.UTC(2026, 2, 2) / 86_400_000,
      changes: [
        { key: "loads.water-heater.start.aboveRuleCurve", value: "4 %" },
        { key: "ruleCurve.at", value: "90 %" },
      ],
    },
  ]);
});

const tooMany = Object.fromEntries(Array.from({ length: 21 }, (_, n) => [`key${String(n)}`, "1"]));
test.each([
  [{}, BEGIN],
  [{ set: {} }, BEGIN],
  [{ set: tooMany }, BEGIN],
  [{ set: { "ruleCurve.at": 90 } }, BEGIN],
  [{ set: { "ruleCurve.at": "90 %" }, more: 1 }, BEGIN],
  [{ set: { "ruleCurve.at": "9".repeat(1_001) } }, BEGIN],
  [{ set: { "ruleCurve.at": "90 %" } }, "/api/days/2026-02-30/what-if"],
])("%j to %s is not understood, and nothing is begun", async (payload, url) => {
  const { app, asked } = appWith();
  const response = await app.inject(begun(payload, url));
  expect(response.statusCode).toBe(400);
  expect(response.json<{ detail: string }>().detail).not.toBe("");
  expect(asked).toEqual([]);
});

test.each([
  ["without the token", {}, 401],
  ["from a page of another site", { ...bearer, "sec-fetch-site": "cross-site" }, 403],
])("nothing is begun or ended %s", async (_who, headers, status) => {
  const { app, asked, cancelled } = appWith();
  const set = { "ruleCurve.at": "90 %" };
  for (const url of [BEGIN, "/api/what-if/one/cancel"]) {
    const response = await app.inject({ method: "POST", url, headers, payload: { set } });
    expect(response.statusCode).toBe(status);
  }
  expect([asked, cancelled]).toEqual([[], []]);
});

test("while another one runs it is said so, and where nothing can be replayed", async () => {
  const set = { "ruleCurve.at": "90 %" };
  const busy = await appWith({ isBusy: true }).app.inject(begun({ set }));
  expect([busy.statusCode, busy.json<{ type: string }>().type]).toEqual([
    409,
    "urn:bywash:problem:replay-busy",
  ]);
  const { app } = createTestApp();
  for (const request of [begun({ set }), { url: "/api/days/2026-03-02/file" }]) {
    const response = await app.inject(request);
    expect([response.statusCode, response.json<{ type: string }>().type]).toEqual([
      409,
      "urn:bywash:problem:no-replay",
    ]);
  }
  const none = await app.inject({ url: "/api/what-if/one", headers: bearer });
  expect(none.statusCode).toBe(404);
});

test("what comes of it may only be seen by who may write: it quotes the settings", async () => {
  const { app } = appWith();
  expect((await app.inject("/api/what-if/one")).statusCode).toBe(401);
  const seen = await app.inject({ url: "/api/what-if/one", headers: bearer });
  expect(seen.json()).toEqual(VIEW);
  const other = await app.inject({ url: "/api/what-if/two", headers: bearer });
  expect(other.statusCode).toBe(404);
});

test("it is ended on request", async () => {
  const { app, cancelled } = appWith();
  const end = { method: "POST", url: "/api/what-if/one/cancel", headers: bearer } as const;
  expect((await app.inject(end)).json()).toMatchObject({ id: "one", state: "cancelled" });
  expect(cancelled).toEqual(["one"]);
});

test("a day file goes by its day's name", async () => {
  const { app } = appWith();
  const response = await app.inject("/api/days/2026-03-02/file");
  expect([response.statusCode, response.body]).toEqual([200, "time\n"]);
  expect(response.headers["content-type"]).toBe("text/csv; charset=utf-8");
  expect(response.headers["content-disposition"]).toMatch(/filename="[a-z0-9-]+-2026-03-02\.csv"/u);
});

test.each<[DayFileAnswer, number]>([
  [{ kind: "busy" }, 409],
  [{ kind: "refused", problems: ["none"] }, 404],
  [{ kind: "failed" }, 503],
])("a day file that cannot be had, %j, is said so", async (file, status) => {
  const { app } = appWith({ file });
  expect((await app.inject("/api/days/2026-03-02/file")).statusCode).toBe(status);
});
