// Planted: nothing-imports-dashboard.
import { shown } from "./dashboard/stand-in.ts";
export const found = shown;
