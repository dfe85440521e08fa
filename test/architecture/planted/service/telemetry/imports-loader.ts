// Planted: rooms-take-site-types-only.
import { planted } from "../../config/load.ts";
export const found = planted;
