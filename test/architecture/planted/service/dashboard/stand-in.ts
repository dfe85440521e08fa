export const shown = 1;
