import { expect, test } from "vitest";
import { createRequests } from "../../service/requests.ts";
import { testControl } from "../support/site.ts";

test("a request counts for the load or panel it names, and for one tick", () => {
  const requests = createRequests(testControl());
  expect(requests.askClear("load", "water-heater")).toBe(true);
  expect(requests.requestFor("load", "water-heater")).toBe("clear");
  expect(requests.requestFor("panel", "water-heater")).toBe("none");
  expect(requests.requestFor("load", "spring-pump")).toBe("none");
  requests.forget();
  expect(requests.requestFor("load", "water-heater")).toBe("none");
});

test("what the site does not have cannot be cleared", () => {
  const requests = createRequests(testControl());
  expect(requests.askClear("load", "surplus")).toBe(false);
  expect(requests.askClear("panel", "surplus")).toBe(true);
});
