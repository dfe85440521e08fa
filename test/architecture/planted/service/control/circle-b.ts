import { left } from "./circle-a.ts";
export const right = (): boolean => left();
