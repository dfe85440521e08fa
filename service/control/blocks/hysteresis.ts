/**
 * Two-threshold switch: on when `value` is at or under `onAt`, off when at or over `offAt`, else as
 * before. Written for heating, where the demand is on at the lower value.
 *
 * @param input.onAt - Must be < `offAt`; settings are checked on load.
 */
export function heatingHysteresis(
  wasOn: boolean,
  input: { readonly value: number; readonly onAt: number; readonly offAt: number },
): boolean {
  if (input.value >= input.offAt) return false;
  if (input.value <= input.onAt) return true;
  return wasOn;
}
