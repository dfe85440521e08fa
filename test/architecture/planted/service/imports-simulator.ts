// Planted: service-knows-no-simulator.
import { planted } from "../simulator/stand-in.ts";
export const found = planted;
