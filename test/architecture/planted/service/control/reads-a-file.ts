// Planted: control-stands-alone; the compiler does not know node:fs here either.
import { readFileSync } from "node:fs";
export const planted = readFileSync("settings.yaml");
