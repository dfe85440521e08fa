// Planted: simulator-knows-no-shell.
import { planted } from "../service/switching/stand-in.ts";
export const found = planted;
