// Planted: history-knows-core-types-only.
import type { Planted } from "../control/stand-in.ts";
export type Found = Planted;
