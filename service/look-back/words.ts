/** Figures of a look back as a person reads them. */
const MINUTES_PER_HOUR = 60;
const PERCENT = 100;

export function energyText(energyWh: number): string {
  return `${kilowattHours(energyWh)} kWh`;
}

/** Without its unit, for columns. */
export function kilowattHours(energyWh: number): string {
  return (energyWh / 1000).toFixed(1);
}

/** Cut and not rounded: 91.96 % is under a target of 92 %. */
export function percentText(fraction: number): string {
  const tenths = Math.floor(Number((fraction * PERCENT * 10).toFixed(6))) / 10;
  return `${String(tenths)} %`;
}

export function spanText(minutes: number): string {
  const whole = Math.round(minutes);
  const [hours, rest] = [Math.floor(whole / MINUTES_PER_HOUR), whole % MINUTES_PER_HOUR];
  if (hours === 0) return `${String(rest)} min`;
  return rest === 0 ? `${String(hours)} h` : `${String(hours)} h ${String(rest)} min`;
}

export function countText(count: number, one: string, many: string): string {
  return `${String(count)} ${count === 1 ? one : many}`;
}

const WEEKDAYS = ["Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"];

/** @param date - `2026-03-02` @returns `Mon 2026-03-02` */
export function dayName(date: string): string {
  const weekday = new Date(`${date}T00:00:00Z`).getUTCDay();
  return `${WEEKDAYS[weekday] ?? ""} ${date}`;
}
