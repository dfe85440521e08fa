import { expect, test } from "vitest";
import { createRequests } from "../../service/requests.ts";
import { testControl } from "../support/site.ts";

test("a request counts for the load or panel it names, and for one tick", () => {
  let askedCount = 0;
  const requests = createRequests(testControl(), () => (askedCount += 1));
  expect(requests.askClear("load", "water-heater")).toBe(true);
  expect(askedCount).toBe(1);
  expect(requests.requestFor("load", "water-heater")).toBe("clear");
  expect(requests.requestFor("panel", "water-heater")).toBe("none");
  expect(requests.requestFor("load", "spring-pump")).toBe("none");
  requests.forget();
  expect(requests.requestFor("load", "water-heater")).toBe("none");
});

test("what the site does not have cannot be cleared", () => {
  let askedCount = 0;
  const requests = createRequests(testControl(), () => (askedCount += 1));
  expect(requests.askClear("load", "surplus")).toBe(false);
  expect(askedCount).toBe(0);
  expect(requests.askClear("panel", "surplus")).toBe(true);
});
