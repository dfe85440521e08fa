/**
 * Hot water drawn in a day: profile M, energy above the cold inlet at each draw, and its flow.
 *
 * @source Commission Delegated Regulation (EU) 812/2013, annex VII, table 3 (5.845 kWh, 23 draws)
 * @check test/checks/tapping-profile.test.ts
 */
export const PROFILE_M: readonly Draw[] = [
  draw("07:00", 105, 3),
  draw("07:05", 1400, 6),
  draw("07:30", 105, 3),
  draw("08:01", 105, 3),
  draw("08:15", 105, 3),
  draw("08:30", 105, 3),
  draw("08:45", 105, 3),
  draw("09:00", 105, 3),
  draw("09:30", 105, 3),
  draw("10:30", 105, 3),
  draw("11:30", 105, 3),
  draw("11:45", 105, 3),
  draw("12:45", 315, 4),
  draw("14:30", 105, 3),
  draw("15:30", 105, 3),
  draw("16:30", 105, 3),
  draw("18:00", 105, 3),
  draw("18:15", 105, 3),
  draw("18:30", 105, 3),
  draw("19:00", 105, 3),
  draw("20:30", 735, 4),
  draw("21:15", 105, 3),
  draw("21:30", 1400, 6),
];

export interface Draw {
  readonly minute: number;
  readonly energyWh: number;
  readonly flowLPerMin: number;
}

const MINUTES_PER_DAY = 1440;
/** Rise over which the profile's energy becomes a volume. [K] */
const RISE_K = 45;
/** 1 L of water warmed by 1 K. [Wh] */
const WATER_WH_PER_LK = 1.1628;

/** Wanted energy in each minute of the day, each draw spread over the time its flow takes. [Wh] */
export function wantedByMinuteWh(draws: readonly Draw[]): Float64Array {
  const wanted = new Float64Array(MINUTES_PER_DAY);
  for (const { minute, energyWh, flowLPerMin } of draws) {
    const minutes = energyWh / (WATER_WH_PER_LK * RISE_K) / flowLPerMin;
    for (let i = 0; i < minutes; i += 1) {
      const share = Math.min(1, minutes - i) / minutes;
      const slot = (minute + i) % MINUTES_PER_DAY;
      wanted[slot] = (wanted[slot] ?? 0) + energyWh * share;
    }
  }
  return wanted;
}

function draw(at: string, energyWh: number, flowLPerMin: number): Draw {
  const [hours = "0", minutes = "0"] = at.split(":");
  return { minute: Number(hours) * 60 + Number(minutes), energyWh, flowLPerMin };
}
