/** Bytes written and read one after the other; whole numbers take as many as they need. */

export interface ByteSink {
  readonly byte: (value: number) => void;
  /** Seven bits a byte, lowest first. @param value - Whole. 0…2^53 − 1 */
  readonly whole: (value: number) => void;
  readonly double: (value: number) => void;
  /** UTF-8 after its length. */
  readonly text: (value: string) => void;
  readonly bytes: (value: Uint8Array) => void;
  readonly length: () => number;
  readonly result: () => Uint8Array;
}

export function createByteSink(): ByteSink {
  let buffer = Buffer.alloc(256);
  let length = 0;
  const room = (extra: number): void => {
    if (length + extra <= buffer.length) return;
    const larger = Buffer.alloc(Math.max(buffer.length * 2, length + extra));
    buffer.copy(larger, 0, 0, length);
    buffer = larger;
  };
  const sink: ByteSink = {
    byte(value) {
      room(1);
      buffer[length++] = value;
    },
    whole(value) {
      let rest = value;
      // Bit operators would cut at 32 bits.
      while (rest >= 128) {
        sink.byte((rest % 128) + 128);
        rest = Math.floor(rest / 128);
      }
      sink.byte(rest);
    },
    double(value) {
      room(8);
      length = buffer.writeDoubleLE(value, length);
    },
    text(value) {
      const encoded = Buffer.from(value, "utf8");
      sink.whole(encoded.length);
      sink.bytes(encoded);
    },
    bytes(value) {
      room(value.length);
      buffer.set(value, length);
      length += value.length;
    },
    length: () => length,
    result: () => buffer.subarray(0, length),
  };
  return sink;
}

/** What was written is not what is read: the bytes are damaged, or of another form. */
export class DamagedBytes extends Error {
  override readonly name = "DamagedBytes";
}

export interface ByteSource {
  readonly byte: () => number;
  readonly whole: () => number;
  readonly double: () => number;
  readonly text: () => string;
  readonly bytes: (count: number) => Uint8Array;
  readonly isAtEnd: () => boolean;
}

/** @throws DamagedBytes from each of its functions where the bytes end too early. */
export function createByteSource(data: Uint8Array): ByteSource {
  const buffer = Buffer.from(data.buffer, data.byteOffset, data.byteLength);
  let at = 0;
  const take = (count: number): number => {
    if (count > buffer.length - at) throw new DamagedBytes(`ends before byte ${at + count}`);
    at += count;
    return at - count;
  };
  const source: ByteSource = {
    byte: () => buffer.readUInt8(take(1)),
    whole() {
      let value = 0;
      for (let weight = 1; weight <= Number.MAX_SAFE_INTEGER; weight *= 128) {
        const byte = source.byte();
        value += (byte % 128) * weight;
        if (byte < 128) return value;
      }
      throw new DamagedBytes("a number is too long");
    },
    double: () => buffer.readDoubleLE(take(8)),
    text() {
      const count = source.whole();
      const from = take(count);
      return buffer.toString("utf8", from, from + count);
    },
    bytes(count) {
      const from = take(count);
      return buffer.subarray(from, from + count);
    },
    isAtEnd: () => at === buffer.length,
  };
  return source;
}
