/** Powers that do not add up, and which sign or unit would make them. */
import { expect, test } from "vitest";
import { sumDoubt } from "../../service/live-check/sum-doubt.ts";
import { fresh, observe, site, unmapped } from "../control/given.ts";

/** 3 kW of sun; 500 W for the house by an inverter of 92 % and 35 W; the rest charges at 52 V. */
const CHARGE_A = (3_000 - 500 / 0.92 - 35) / 52;
const control = site({ balance: null });
const given = (over: object) =>
  sumDoubt(
    observe(control, 2_000, {
      socFraction: 0.8,
      voltageV: 52,
      currentA: CHARGE_A,
      arrayW: 3_000,
      inverter: { powerW: fresh(500) },
      ...over,
    }),
    control,
  );

test("powers that add up give no doubt", () => {
  expect(given({})).toBeNull();
});

test.each<[string, object, string]>([
  ["a sign", { currentA: -CHARGE_A }, "battery.current has the other sign"],
  ["an array in kW", { arrayW: 3 }, "array.roof.power is sent in kW"],
])("%s that is wrong is found", (_name, over, remedy) => {
  const doubt = given(over);
  expect(doubt?.remedies).toEqual([expect.stringContaining(remedy)]);
});

test("an inverter in kW is found where it is loaded enough to show", () => {
  const currentA = (3_000 - 2_500 / 0.92 - 35) / 52;
  const doubt = given({ currentA, inverter: { powerW: fresh(2.5) } });
  expect(doubt?.remedies).toEqual([expect.stringContaining("inverter.power is sent in kW")]);
});

test("what none of them explains is told without a remedy", () => {
  const doubt = given({ currentA: CHARGE_A + 60 });
  expect(doubt?.missingW).toBeCloseTo(3_120, 6);
  expect(doubt?.remedies).toEqual([]);
});

test("nothing is compared while a meter is silent", () => {
  expect(given({ inverter: { powerW: unmapped }, currentA: 900 })).toBeNull();
});
