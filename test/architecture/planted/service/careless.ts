// Planted: one line for each ban that holds in all production code.
export const readsDate = (): number => Date.now();
export const makesDate = (): Date => new Date();
export const monotonic = (): number => performance.now();
export const delays = (): void => {
  setTimeout(() => undefined, 1);
};
export const writes = (): void => {
  console.log("planted");
};
export const casts = (value: unknown): string => value as string;
export const anything = (value: any): void => {
  void value;
};
export const many = (a: number, b: number, c: number, d: number): number => a + b + c + d;
export let mutable = 0;
export { planted } from "./daemon.ts";
export default readsDate;
export const forgets = (): void => {
  Promise.resolve();
};
