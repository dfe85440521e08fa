import { expect, test } from "vitest";
import { createLimitedLog } from "../../service/log-limit.ts";
import type { LogLine } from "../../service/log-limit.ts";
import { createManualClock } from "../support/manual-clock.ts";

function setUp() {
  const clock = createManualClock();
  const lines: LogLine[] = [];
  const log = createLimitedLog({ clock, write: (line) => lines.push(line) });
  return { clock, lines, log, texts: () => lines.map(({ message }) => message) };
}

function repeat(times: number, say: (index: number) => void): void {
  for (let index = 0; index < times; index += 1) say(index);
}

test("up to its allowance every line goes through as it is", () => {
  const { lines, log, clock } = setUp();
  repeat(20, (attempt) => log.part("broker").warn({ attempt }, "down"));
  clock.advance(60_000);
  expect(lines).toHaveLength(20);
  expect(lines[19]).toEqual({
    level: "warn",
    part: "broker",
    fields: { attempt: 19 },
    message: "down",
  });
});

test("what is beyond it becomes one line, at the end of the minute and not before", () => {
  const { lines, log, clock, texts } = setUp();
  repeat(1_000, () => log.part("broker").warn({}, "down"));
  clock.advance(59_999);
  expect(lines).toHaveLength(20);
  clock.advance(1);
  expect(texts().slice(20)).toEqual(["down … 980 more suppressed"]);
  expect(lines[20]).toMatchObject({ level: "warn", part: "broker", fields: { suppressed: 980 } });
  clock.advance(600_000);
  expect(lines).toHaveLength(21);
});

test("the next minute has an allowance of its own", () => {
  const { lines, log, clock } = setUp();
  repeat(25, () => log.part("web").error({}, "failed"));
  clock.advance(60_000);
  repeat(25, () => log.part("web").error({}, "failed"));
  clock.advance(60_000);
  expect(lines).toHaveLength(42);
});

test("another part, level or message is not held back", () => {
  const { lines, log } = setUp();
  repeat(30, () => log.part("broker").warn({}, "down"));
  log.part("switching").warn({}, "down");
  log.part("broker").error({}, "down");
  log.part("broker").warn({}, "up");
  expect(lines).toHaveLength(23);
});

test("messages that are never the same share one allowance once there are too many", () => {
  const { lines, log, clock, texts } = setUp();
  repeat(5_000, (index) => log.part("web").info({}, `message ${String(index)}`));
  clock.advance(60_000);
  expect(lines).toHaveLength(200 + 20 + 1);
  expect(texts().at(-1)).toBe("other messages … 4780 more suppressed");
});

test("closing says what was held back, and leaves nothing planned", () => {
  const { log, clock, texts } = setUp();
  repeat(22, () => log.part("web").info({}, "asked"));
  log.close();
  expect(texts().slice(20)).toEqual(["asked … 2 more suppressed"]);
  clock.advance(120_000);
  expect(texts()).toHaveLength(21);
});
