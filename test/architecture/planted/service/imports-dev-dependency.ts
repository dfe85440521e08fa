// Planted: no-dev-dependency.
import { fc } from "fast-check";
export const planted = fc;
