// Planted: solar-stands-alone.
import type { Planted } from "../control/stand-in.ts";
export const planted: Planted = { isPlanted: true };
