/**
 * Frames of a segment: one byte of kind, the length, the content and a CRC-32 over all of it. What
 * a crash has cut short, or a bad sector has changed, is found out and ends the reading.
 */
import { crc32 } from "node:zlib";

/** Letters stand in the files: never change one. */
export const FRAME = {
  /** The shape of all rows that follow. */
  shape: 0x46,
  /** One row: what a run of ticks began with. */
  start: 0x53,
  /** Rows of ticks. */
  block: 0x42,
} as const;
export type FrameKind = (typeof FRAME)[keyof typeof FRAME];

/** First bytes of every segment: name and version of the form. */
export const SEGMENT_HEAD = Buffer.from("BYWASHJ2", "latin1");

const HEAD_LENGTH = 5;
const CRC_LENGTH = 4;
const CONTENT_MAX = 64 * 1024 * 1024;

export interface Frame {
  readonly kind: FrameKind;
  readonly content: Uint8Array;
}

export function frameOf(kind: FrameKind, content: Uint8Array): Uint8Array {
  const bytes = Buffer.alloc(HEAD_LENGTH + content.length + CRC_LENGTH);
  bytes.writeUInt8(kind, 0);
  bytes.writeUInt32LE(content.length, 1);
  bytes.set(content, HEAD_LENGTH);
  const end = HEAD_LENGTH + content.length;
  bytes.writeUInt32LE(crc32(bytes.subarray(0, end)), end);
  return bytes;
}

export interface FrameAt extends Frame {
  /** Byte after the frame. */
  readonly end: number;
}

/** @returns null if there is no whole and sound frame at this place. */
export function frameAt(data: Uint8Array, start: number): FrameAt | null {
  const bytes = Buffer.from(data.buffer, data.byteOffset, data.byteLength);
  if (bytes.length - start < HEAD_LENGTH + CRC_LENGTH) return null;
  const kind = kindOf(bytes.readUInt8(start));
  const length = bytes.readUInt32LE(start + 1);
  const end = start + HEAD_LENGTH + length;
  if (kind === null || length > CONTENT_MAX || end + CRC_LENGTH > bytes.length) return null;
  if (crc32(bytes.subarray(start, end)) !== bytes.readUInt32LE(end)) return null;
  return { kind, content: bytes.subarray(start + HEAD_LENGTH, end), end: end + CRC_LENGTH };
}

function kindOf(byte: number): FrameKind | null {
  return Object.values(FRAME).find((kind) => kind === byte) ?? null;
}
