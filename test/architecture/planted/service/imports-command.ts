// Planted: commands-are-strangers.
import { planted } from "./cli/stand-in.ts";
export const found = planted;
