/** Days and events out of the history, over HTTP. */
import { expect, test } from "vitest";
import type { DaysView, DayView, EventsView } from "../../service/past-desk.ts";
import { releasedPast } from "../support/released-past.ts";
import { createTestApp } from "../support/web-app.ts";

const DATE = "2025-06-12";
const { app } = createTestApp({ past: releasedPast() });
const get = async <T>(url: string): Promise<T> => (await app.inject(url)).json<T>();

test("the days that were recorded, with what they came to", async () => {
  const { days, before } = await get<DaysView>("/api/days");
  expect(before).toBe(null);
  expect(days).toMatchObject([{ date: DATE, isOver: true }]);
  const [day] = days;
  // 210 of 1440 minutes.
  expect(day?.coveredFraction).toBeCloseTo(210 / 1440, 4);
  // about.json of that release: what the core itself counted from its first tick to its last.
  expect(day?.loads["spring-pump"]).toMatchObject({ energyWh: 1125, starts: 2 });
  expect(day?.loads["water-heater"]?.energyWh).toBeCloseTo(6150, -2);
  expect(day?.starts).toBe(5);
  expect(day?.divertedWh).toBeGreaterThan(0);
  // Within a minute in which a load starts, its meter may be ahead of the inverter's.
  const partsWh = (day?.baseWh ?? 0) + (day?.divertedWh ?? 0);
  expect(Math.abs((day?.usedWh ?? 0) / partsWh - 1)).toBeLessThan(0.01);
  expect(day?.lowestSocFraction).toBeGreaterThan(0.5);
  expect(day?.lowestSocFraction).toBeLessThanOrEqual(day?.endSocFraction ?? 0);
  expect(await get<DaysView>(`/api/days?before=${DATE}`)).toMatchObject({ days: [], before: null });
});

test("a day minute by minute, whose energies are those of its figures", async () => {
  const day = await get<DayView>(`/api/days/${DATE}`);
  expect(day).toMatchObject({ from: "2025-06-11T22:00:00.000Z", to: "2025-06-12T22:00:00.000Z" });
  expect(day.minutes.length).toBe(210);
  expect(day.minutes[0]).toBe(9 * 60);
  const columns = [day.pvPowerW, day.socFraction, day.chargeStages, day.basePowerW];
  for (const column of columns) expect(column.length).toBe(210);
  const pvWh = day.pvPowerW.reduce<number>((sum, powerW) => sum + (powerW ?? 0) / 60, 0);
  expect(pvWh).toBeCloseTo(day.figures?.pvWh ?? NaN, 0);
  expect(Object.keys(day.loads)).toEqual(["spring-pump", "water-heater", "whey-cooler"]);
  expect(day.loads["water-heater"]?.label).toMatch(/^Water heater/u);
});

test("a day is not sent again to whoever has it", async () => {
  const first = await app.inject(`/api/days/${DATE}`);
  const { etag } = first.headers;
  const again = await app.inject({ url: `/api/days/${DATE}`, headers: { "if-none-match": etag } });
  expect(again).toMatchObject({ statusCode: 304, body: "" });
  const other = await app.inject({ url: `/api/days/${DATE}`, headers: { "if-none-match": '"x"' } });
  expect(other.statusCode).toBe(200);
});

test("events by page, newest first, none twice and none left out", async () => {
  const all = await get<EventsView>("/api/events");
  expect(all.before).toBe(null);
  expect(all.events.length).toBeGreaterThan(8);
  const paged: EventsView["events"][number][] = [];
  let before: number | null = null;
  do {
    const after: string = before === null ? "" : `&before=${String(before)}`;
    const page: EventsView = await get<EventsView>(`/api/events?limit=3${after}`);
    expect(page.events.length).toBeLessThanOrEqual(3);
    paged.push(...page.events);
    ({ before } = page);
  } while (before !== null);
  expect(paged).toEqual(all.events);
  const numbers = paged.map(({ number }) => number);
  expect(numbers).toEqual(numbers.toSorted((a, b) => b - a));
});

test.each<[string, (event: EventsView["events"][number]) => boolean]>([
  ["load=spring-pump", ({ about, id }) => about === "load" && id === "spring-pump"],
  ["code=quota-run-met", ({ code }) => code === "quota-run-met"],
  ["text=QUOTA", ({ code }) => code.startsWith("quota")],
  ["from=2025-06-12T08:00:00Z", ({ at }) => at >= "2025-06-12T08"],
  ["to=2025-06-12T08:00:00Z", ({ at }) => at < "2025-06-12T08"],
  ["load=nobody", () => false],
])("events of %s", async (query, isWanted) => {
  const all = await get<EventsView>("/api/events");
  const { events } = await get<EventsView>(`/api/events?${query}`);
  expect(events).toEqual(all.events.filter(isWanted));
  if (!query.includes("nobody")) expect(events.length).toBeGreaterThan(0);
});

test("an event is told with the numbers of its decision", async () => {
  const { events } = await get<EventsView>("/api/events?code=quota-run-met");
  expect(events[0]).toMatchObject({
    about: "load",
    id: "spring-pump",
    change: "stopped",
    severity: "info",
    sentence: "off: 90 min today, its quota is 90 min",
  });
});

test.each([
  "/api/days?limit=1000",
  "/api/days?before=yesterday",
  "/api/days/2025-02-30",
  "/api/events?from=2025-06-12",
  "/api/events?load=",
  "/api/events?lode=spring-pump",
  "/api/events?load=a&load=b",
])("%s is refused with a reason", async (url) => {
  const response = await app.inject(url);
  expect(response.statusCode).toBe(400);
  expect(response.json<{ detail: string }>().detail).toMatch(/^\w+: /u);
});
