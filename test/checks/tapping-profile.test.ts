import { expect, test } from "vitest";
import { PROFILE_M, wantedByMinuteWh } from "../../simulator/plant/tapping-profile.ts";

/** (EU) 812/2013, annex VII, table 3: profile M, Qref 5.845 kWh, 23 draws, none before 07:00. */
test("tapping profile M: sum, number of draws, largest draws", () => {
  const sumWh = PROFILE_M.reduce((sum, { energyWh }) => sum + energyWh, 0);
  expect(sumWh).toBeCloseTo(5845, 9);
  expect(PROFILE_M).toHaveLength(23);
  const large = PROFILE_M.filter(({ energyWh }) => energyWh === 1400);
  expect(large.map(({ minute }) => minute)).toEqual([7 * 60 + 5, 21 * 60 + 30]);
});

test("spread over minutes, nothing of the profile is lost", () => {
  const wanted = wantedByMinuteWh(PROFILE_M);
  expect(wanted.reduce((sum, wh) => sum + wh, 0)).toBeCloseTo(5845, 6);
  expect(wanted.subarray(0, 420).every((wh) => wh === 0)).toBe(true);
  // 1.4 kWh at 6 L/min over 45 K takes 26.8 L, hence four minutes and a half.
  expect(wanted[425]).toBeCloseTo(1400 / (1400 / (1.1628 * 45) / 6), 6);
});
