/** The stream over real connections: full house, a reader that does not read, the end. */
import { connect } from "node:net";
import type { Socket } from "node:net";
import { afterEach, expect, test } from "vitest";
import { READERS_MAX } from "../../service/web/stream.ts";
import { openStream } from "../support/event-stream.ts";
import { decisionOf } from "../support/scripted-step.ts";
import { until } from "../support/until.ts";
import { createTestApp } from "../support/web-app.ts";

const cleanUps: (() => unknown)[] = [];
afterEach(async () => {
  for (const cleanUp of cleanUps.splice(0).reverse()) await cleanUp();
});

async function listen() {
  const made = createTestApp();
  const origin = await made.app.listen({ host: "127.0.0.1", port: 0 });
  cleanUps.push(() => made.app.close());
  const happen = (times: number): void => {
    const event = { about: "load", index: 0, change: "started", code: "running" } as const;
    const decision = decisionOf({ loadStages: [1, 0], panelsClosed: [true] });
    made.chronicle.note({ ...decision, events: new Array<typeof event>(times).fill(event) });
  };
  return { ...made, port: Number(new URL(origin).port), url: `${origin}/api/stream`, happen };
}

/** A client that asks and then reads nothing. */
async function openUnread(port: number): Promise<Socket> {
  const socket = connect(port, "127.0.0.1");
  await new Promise<void>((resolve) => socket.once("connect", resolve));
  socket.pause();
  socket.write("GET /api/stream HTTP/1.1\r\nhost: localhost\r\n\r\n");
  cleanUps.push(() => socket.destroy());
  return socket;
}

test("answers as an event stream, with the security headers, and resumes", async () => {
  const { url, happen } = await listen();
  const first = await openStream(url);
  cleanUps.push(first.close);
  expect(first.status).toBe(200);
  expect(first.headers.get("content-type")).toBe("text/event-stream");
  expect(first.headers.get("cache-control")).toBe("no-store");
  expect(first.headers.get("x-content-type-options")).toBe("nosniff");
  happen(1);
  await until(() => first.messages.some(({ event }) => event === "event"));
  const lastId = first.messages.at(-1)?.id;
  first.close();
  happen(2);
  const second = await openStream(url, lastId);
  cleanUps.push(second.close);
  await until(() => second.messages.length >= 3);
  expect(second.messages.map(({ event }) => event)).toEqual(["state", "event", "event"]);
});

test("beyond 50 readers it answers 503, and takes another once one is gone", async () => {
  const { url } = await listen();
  const streams = await Promise.all(Array.from({ length: READERS_MAX }, () => openStream(url)));
  cleanUps.push(...streams.map(({ close }) => close));
  const refused = await fetch(url);
  expect(refused.status).toBe(503);
  expect(refused.headers.get("retry-after")).toBe("30");
  expect(await refused.json()).toMatchObject({ type: "urn:bywash:problem:too-many-streams" });
  streams[0]?.close();
  let status = 0;
  const ask = async (): Promise<void> => {
    const stream = await openStream(url);
    cleanUps.push(stream.close);
    status = stream.status;
  };
  for (let attempt = 0; attempt < 100 && status !== 200; attempt += 1) await ask();
  expect(status).toBe(200);
});

test("a reader that does not read is cut off; others see everything", async () => {
  const { url, port, happen, app } = await listen();
  const unread = await openUnread(port);
  const good = await openStream(url);
  cleanUps.push(good.close);
  let wasCut = false;
  unread.once("close", () => (wasCut = true));
  unread.on("error", () => undefined);
  const isDropped = async (): Promise<boolean> =>
    (await app.inject("/metrics")).body.includes("bywash_stream_readers_dropped_total 1");
  let sent = 0;
  // The machine's own buffers between the two take some megabytes first.
  for (; sent < 200_000 && !(await isDropped()); sent += 500) {
    happen(500);
    const expected = sent + 500;
    await until(() => good.messages.filter(({ event }) => event === "event").length >= expected);
  }
  expect(await isDropped()).toBe(true);
  unread.resume();
  await until(() => wasCut);
  expect(good.messages.filter(({ event }) => event === "event")).toHaveLength(sent);
});

test("closing ends open streams, whoever does not read, and connections that never asked", async () => {
  const { url, port, app, happen } = await listen();
  await openUnread(port);
  const spare = connect(port, "127.0.0.1");
  await new Promise<void>((resolve) => spare.once("connect", resolve));
  const stream = await openStream(url);
  await until(() => stream.messages.length > 0);
  happen(1_000);
  await app.close();
  await stream.ended;
  expect(stream.messages[0]?.event).toBe("state");
  await expect(fetch(url)).rejects.toThrow();
});

test("HEAD of the stream ends", async () => {
  const { url } = await listen();
  const response = await fetch(url, { method: "HEAD" });
  expect(response.status).toBe(200);
  expect(response.headers.get("content-type")).toBe("text/event-stream");
});
