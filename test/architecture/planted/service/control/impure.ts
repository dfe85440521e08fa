// Planted: one line for each ban on what the language itself would let the core do.
export const readsDate = (): number => Date.now();
export const makesDate = (): Date => new Date();
export const formats = (): unknown => Intl.NumberFormat;
export const writes = (value: number): string => value.toLocaleString();
export const guesses = (): number => Math.random();
export const powers = (base: number): number => Math.pow(base, 0.5);
export const raises = (base: number): number => base ** 0.5;
export const waits = async (): Promise<void> => {
  await Promise.resolve();
};
export const delays = (): void => {
  setTimeout(() => undefined, 1);
};
export const monotonic = (): number => performance.now();
export let mutable = 0;
