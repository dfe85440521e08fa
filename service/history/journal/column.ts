/** One leaf through all the ticks of a block, in the shortest of a few forms that lose nothing. */
import { DamagedBytes } from "./bytes.ts";
import type { ByteSink, ByteSource } from "./bytes.ts";
import { createByteSink } from "./bytes.ts";
import { canBeStepped, scale, unscale } from "./scaled.ts";
import type { Leaf } from "./shape.ts";

/** The numbers stand in the files: never change one. */
const FORM = { same: 0, list: 1, scaled: 2, since: 3, doubles: 4 } as const;
const LEAF = { number: 0, text: 1, true: 2, false: 3, null: 4, undefined: 5 } as const;

/**
 * @param times - The column `monotonicMs`, if it is of numbers: the ages of readings are written as
 *   the instants of their arrival, which stay the same until the next message.
 */
export function writeColumn(
  sink: ByteSink,
  values: readonly Leaf[],
  times: readonly number[] | null,
): void {
  const [first] = values;
  if (values.every((value) => Object.is(value, first))) {
    sink.byte(FORM.same);
    writeLeaf(sink, first);
    return;
  }
  const numbers = numbersOf(values);
  if (numbers === null) {
    writeList(sink, values);
    return;
  }
  const forms = [scaledForm(numbers), times === null ? null : sinceForm(numbers, times)]
    .filter((form) => form !== null)
    .sort((a, b) => a.length - b.length);
  const [shortest] = forms;
  if (shortest === undefined) writeDoubles(sink, numbers);
  else sink.bytes(shortest);
}

/** @throws DamagedBytes */
export function readColumn(
  source: ByteSource,
  count: number,
  times: readonly number[] | null,
): Leaf[] {
  const form = source.byte();
  switch (form) {
    case FORM.same: {
      const value = readLeaf(source);
      return new Array<Leaf>(count).fill(value);
    }
    case FORM.list:
      return readList(source, count);
    case FORM.scaled: {
      const how = { factorPlace: source.byte(), powerPlace: source.byte() };
      return readSteps(source, count).map((whole) => unscale(whole, how));
    }
    case FORM.since: {
      if (times === null) throw new DamagedBytes("an age without its time");
      const since = readSteps(source, count);
      return times.map((time, row) => time - (since[row] ?? NaN));
    }
    case FORM.doubles:
      return readDoubles(source, count);
    default:
      throw new DamagedBytes(`no form of column has the number ${form}`);
  }
}

export function numbersOf(values: readonly Leaf[]): number[] | null {
  const numbers = values.filter((value) => typeof value === "number");
  return numbers.length === values.length ? numbers : null;
}

function scaledForm(numbers: readonly number[]): Uint8Array | null {
  const scaled = scale(numbers);
  if (scaled === null) return null;
  const sink = createByteSink();
  sink.byte(FORM.scaled);
  sink.byte(scaled.factorPlace);
  sink.byte(scaled.powerPlace);
  writeSteps(sink, scaled.wholes);
  return sink.result();
}

function sinceForm(numbers: readonly number[], times: readonly number[]): Uint8Array | null {
  const since = numbers.map((number, row) => (times[row] ?? NaN) - number);
  const isExact = numbers.every((number, row) =>
    Object.is((times[row] ?? NaN) - (since[row] ?? NaN), number),
  );
  if (!isExact || !since.every(canBeStepped)) return null;
  const sink = createByteSink();
  sink.byte(FORM.since);
  writeSteps(sink, since);
  return sink.result();
}

/** Each as the step from the one before, small ones of either sign in one byte. */
function writeSteps(sink: ByteSink, wholes: readonly number[]): void {
  let previous = 0;
  for (const whole of wholes) {
    const step = whole - previous;
    sink.whole(step >= 0 ? step * 2 : -step * 2 - 1);
    previous = whole;
  }
}

function readSteps(source: ByteSource, count: number): number[] {
  const wholes: number[] = [];
  let whole = 0;
  for (let row = 0; row < count; row += 1) {
    const zigzag = source.whole();
    whole += zigzag % 2 === 0 ? zigzag / 2 : -(zigzag + 1) / 2;
    wholes.push(whole);
  }
  return wholes;
}

/** All first bytes, then all second ones: those of the exponents repeat, and pack well. */
function writeDoubles(sink: ByteSink, numbers: readonly number[]): void {
  const raw = new Uint8Array(Float64Array.from(numbers).buffer);
  sink.byte(FORM.doubles);
  for (let plane = 0; plane < 8; plane += 1) {
    for (let row = 0; row < numbers.length; row += 1) sink.byte(raw[row * 8 + plane] ?? 0);
  }
}

function readDoubles(source: ByteSource, count: number): number[] {
  const raw = new Uint8Array(count * 8);
  for (let plane = 0; plane < 8; plane += 1) {
    for (let row = 0; row < count; row += 1) raw[row * 8 + plane] = source.byte();
  }
  return [...new Float64Array(raw.buffer)];
}

function writeList(sink: ByteSink, values: readonly Leaf[]): void {
  const distinct = values.filter(
    (value, row) => values.findIndex((other) => Object.is(other, value)) === row,
  );
  sink.byte(FORM.list);
  sink.whole(distinct.length);
  for (const value of distinct) writeLeaf(sink, value);
  for (const value of values) sink.whole(distinct.findIndex((other) => Object.is(other, value)));
}

function readList(source: ByteSource, count: number): Leaf[] {
  const distinct: Leaf[] = [];
  const distinctCount = source.whole();
  if (distinctCount > count) throw new DamagedBytes("more different values than values");
  for (let place = 0; place < distinctCount; place += 1) distinct.push(readLeaf(source));
  const values: Leaf[] = [];
  for (let row = 0; row < count; row += 1) {
    const place = source.whole();
    if (place >= distinct.length) throw new DamagedBytes("a value that is not in its list");
    values.push(distinct[place]);
  }
  return values;
}

function writeLeaf(sink: ByteSink, value: Leaf): void {
  if (typeof value === "number") {
    sink.byte(LEAF.number);
    sink.double(value);
  } else if (typeof value === "string") {
    sink.byte(LEAF.text);
    sink.text(value);
  } else if (typeof value === "boolean") {
    sink.byte(value ? LEAF.true : LEAF.false);
  } else {
    sink.byte(value === null ? LEAF.null : LEAF.undefined);
  }
}

function readLeaf(source: ByteSource): Leaf {
  const kind = source.byte();
  switch (kind) {
    case LEAF.number:
      return source.double();
    case LEAF.text:
      return source.text();
    case LEAF.true:
      return true;
    case LEAF.false:
      return false;
    case LEAF.null:
      return null;
    case LEAF.undefined:
      return undefined;
    default:
      throw new DamagedBytes(`no kind of value has the number ${kind}`);
  }
}
