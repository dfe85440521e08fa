// Planted: dashboard-imports-types-only. The type is allowed, the code is not.
import { planted } from "../cli/stand-in.ts";
export const found = planted;
