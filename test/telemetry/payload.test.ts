import fc from "fast-check";
import { describe, expect, test } from "vitest";
import type { Decoding } from "../../config/site-settings.ts";
import { decodePayload, follow } from "../../service/telemetry/payload.ts";
import { openPayload, pointerPath } from "../../service/telemetry/payload.ts";

const NUMBER: Decoding = { kind: "number", scale: 1, offset: 0 };

function decode(text: string | Uint8Array, field: string | null, decoding: Decoding = NUMBER) {
  const bytes = typeof text === "string" ? new TextEncoder().encode(text) : text;
  const path = field === null ? null : pointerPath(field);
  return decodePayload(openPayload(bytes), { path, decoding });
}

describe("a number on a topic of its own", () => {
  test.each([
    ["52.4", 52.4],
    [" 52.4\n", 52.4],
    ["-3", -3],
    ["+7", 7],
    [".5", 0.5],
    ["5.", 5],
    ["1e3", 1000],
    ["0", 0],
  ])("%j is %d", (text, value) => {
    expect(decode(text, null)).toEqual({ kind: "value", value });
  });

  test.each([
    ["", "wrong-type"],
    ["52,4", "wrong-type"],
    ["52.4 V", "wrong-type"],
    ["0x10", "wrong-type"],
    ["null", "wrong-type"],
    ["true", "wrong-type"],
    ['"52.4"', "wrong-type"],
    ["[52.4]", "wrong-type"],
    ["NaN", "not-finite"],
    ["-Infinity", "not-finite"],
    ["inf", "not-finite"],
    ["1e999", "not-finite"],
    ["1".repeat(41), "wrong-type"],
  ])("%j is ignored: %s", (text, reason) => {
    expect(decode(text, null)).toEqual({ kind: "ignored", reason });
  });

  test("scale and offset give SI units", () => {
    expect(decode("50", null, { kind: "number", scale: 0.01, offset: 0 })).toEqual({
      kind: "value",
      value: 0.5,
    });
    expect(decode("32", null, { kind: "number", scale: 0.5, offset: -16 })).toEqual({
      kind: "value",
      value: 0,
    });
  });
});

describe("a field of a JSON message", () => {
  test.each([
    ['{"v":52.4}', "/v", 52.4],
    ['{"a":{"b":[1,2,3]}}', "/a/b/2", 3],
    ['{"a/b":1}', "/a~1b", 1],
    ['{"m~n":8}', "/m~0n", 8],
    ["7", "", 7],
    ['{"":4}', "/", 4],
  ])("%s at %j is %d", (text, field, value) => {
    expect(decode(text, field)).toEqual({ kind: "value", value });
  });

  test.each([
    ['{"v":"52.4"}', "/v", "wrong-type"],
    ['{"v":null}', "/v", "wrong-type"],
    ['{"v":[52]}', "/v", "wrong-type"],
    ['{"v":{}}', "/v", "wrong-type"],
    ['{"v":true}', "/v", "wrong-type"],
    ['{"v":1e999}', "/v", "not-finite"],
    ['{"v":NaN}', "/v", "not-json"],
    ["{}", "/v", "no-field"],
    ["{}", "/__proto__", "no-field"],
    ["{}", "/constructor/length", "no-field"],
    ["[1]", "/01", "no-field"],
    ["[1]", "/length", "no-field"],
    ["[1]", "/-", "no-field"],
    ['"text"', "/length", "no-field"],
    ['{"v":1', "/v", "not-json"],
    ["", "/v", "not-json"],
    [`${"[".repeat(17)}${"]".repeat(17)}`, "/0", "too-deep"],
  ])("%s at %j is ignored: %s", (text, field, reason) => {
    expect(decode(text, field)).toEqual({ kind: "ignored", reason });
  });

  test("brackets inside text are no depth", () => {
    expect(decode(JSON.stringify({ t: '[{\\"'.repeat(20), v: 1 }), "/v")).toEqual({
      kind: "value",
      value: 1,
    });
  });
});

describe("words", () => {
  const decoding: Decoding = { kind: "booleanTable", table: { on: true, off: false, "1": true } };
  test.each([
    ["on", null, true],
    ["off", null, false],
    ['{"s":"on"}', "/s", true],
    ['{"s":1}', "/s", true],
  ])("%s at %j is %s", (text, field, value) => {
    expect(decode(text, field, decoding)).toEqual({ kind: "value", value });
  });
  test.each([
    ["ON", null, "unknown-word"],
    ["toString", null, "unknown-word"],
    ['{"s":true}', "/s", "unknown-word"],
    ['{"s":null}', "/s", "wrong-type"],
  ])("%s at %j is ignored: %s", (text, field, reason) => {
    expect(decode(text, field, decoding)).toEqual({ kind: "ignored", reason });
  });
});

test("bytes that are no UTF-8, and too many bytes, are ignored", () => {
  expect(decode(new Uint8Array([0x35, 0xff]), null)).toEqual({
    kind: "ignored",
    reason: "not-utf8",
  });
  const spaces = (count: number) => `${" ".repeat(count - 1)}5`;
  expect(decode(spaces(16_384), null)).toEqual({ kind: "value", value: 5 });
  expect(decode(spaces(16_385), null)).toEqual({ kind: "ignored", reason: "too-large" });
});

test("whatever the bytes, the answer is a finite number or a reason", () => {
  const soup = fc.oneof(
    fc.uint8Array({ maxLength: 64 }),
    fc.json().map((json) => new TextEncoder().encode(json)),
    fc.constantFrom("[", '{"v":', '{"v":-0}', "-", "1e-999", "﻿1").map((text) => {
      return new TextEncoder().encode(text);
    }),
  );
  const fields = fc.constantFrom(null, "", "/v", "/0", "/v/0", "/", "/~2", "/~");
  fc.assert(
    fc.property(soup, fields, (bytes, field) => {
      const decoded = decode(bytes, field);
      return decoded.kind === "ignored" || Number.isFinite(decoded.value);
    }),
    { seed: 20_260_615, numRuns: 2_000 },
  );
});

/**
 * The document and pointers of RFC 6901, "JavaScript Object Notation (JSON) Pointer", section 5,
 * from memory.
 */
test("RFC 6901 section 5", () => {
  const document = {
    foo: ["bar", "baz"],
    "": 0,
    "a/b": 1,
    "c%d": 2,
    "e^f": 3,
    "g|h": 4,
    "i\\j": 5,
    'k"l': 6,
    " ": 7,
    "m~n": 8,
  };
  const cases: [string, unknown][] = [
    ["", document],
    ["/foo", ["bar", "baz"]],
    ["/foo/0", "bar"],
    ["/", 0],
    ["/a~1b", 1],
    ["/c%d", 2],
    ["/e^f", 3],
    ["/g|h", 4],
    ["/i\\j", 5],
    ['/k"l', 6],
    ["/ ", 7],
    ["/m~0n", 8],
  ];
  for (const [pointer, value] of cases) {
    expect(follow(document, pointerPath(pointer))).toEqual(value);
  }
});
