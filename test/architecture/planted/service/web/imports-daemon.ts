// Planted: rooms-know-no-composition.
import { planted } from "../daemon.ts";
export const found = planted;
