// Planted: no-circles.
import { right } from "./circle-b.ts";
export const left = (): boolean => right();
