// Planted: config-knows-no-shell.
import { planted } from "../service/daemon.ts";
export const found = planted;
