// Planted: sqlite-in-history-only.
import Database from "libsql";
export const planted = Database;
