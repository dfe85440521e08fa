// Planted: rooms-are-strangers.
import { planted } from "../switching/stand-in.ts";
export const found = planted;
