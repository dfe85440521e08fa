// Planted: everything-resolves.
import { planted } from "./not-there.ts";
export const found = planted;
