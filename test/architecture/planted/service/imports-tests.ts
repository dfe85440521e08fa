// Planted: nothing-imports-tests.
import { planted } from "../test/stand-in.ts";
export const found = planted;
