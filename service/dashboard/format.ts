/** Numbers and times as the reader writes them. The service itself speaks SI units. */

export interface Format {
  readonly power: (powerW: number) => string;
  readonly energy: (energyWh: number) => string;
  readonly share: (fraction: number) => string;
  readonly voltage: (voltageV: number) => string;
  /** A length of time, to two units at most. */
  readonly span: (seconds: number) => string;
  /** Local time at the site. */
  readonly time: (at: string) => string;
  readonly day: (at: string) => string;
  /** Of a local date such as 2026-03-02. */
  readonly date: (date: string) => string;
  readonly number: (value: number) => string;
}

export interface FormatChoice {
  /** BCP 47; undefined: the browser's. */
  readonly locale: string | undefined;
  readonly timeZone: string;
  /** undefined: as the locale has it. */
  readonly hour12: boolean | undefined;
}

/** From here on kilowatts are shorter. [W] */
const KILO = 1000;

export function createFormat({ locale, timeZone, hour12 }: FormatChoice): Format {
  const digits = (most: number) => new Intl.NumberFormat(locale, { maximumFractionDigits: most });
  const [whole, tenths, hundredths] = [digits(0), digits(1), digits(2)];
  const unit = (value: number, name: string): string =>
    Math.abs(value) < KILO
      ? `${whole.format(value)} ${name}`
      : `${hundredths.format(Math.round(value / 10) / 100)} k${name}`;
  const hours = hour12 === undefined ? {} : { hour12 };
  const clock = new Intl.DateTimeFormat(locale, {
    timeZone,
    hour: "2-digit",
    minute: "2-digit",
    ...hours,
  });
  const date = new Intl.DateTimeFormat(locale, {
    timeZone,
    weekday: "short",
    day: "numeric",
    month: "short",
  });
  const dateAlone = new Intl.DateTimeFormat(locale, {
    timeZone: "UTC",
    weekday: "short",
    day: "numeric",
    month: "short",
  });
  return {
    date: (text) => dateAlone.format(new Date(`${text}T12:00:00Z`)),
    power: (powerW) => unit(powerW, "W"),
    energy: (energyWh) => unit(energyWh, "Wh"),
    share: (fraction) => `${tenths.format(fraction * 100)} %`,
    voltage: (voltageV) => `${hundredths.format(voltageV)} V`,
    span: spanText,
    time: (at) => clock.format(new Date(at)),
    day: (at) => date.format(new Date(at)),
    number: (value) => hundredths.format(value),
  };
}

function spanText(seconds: number): string {
  const wholeS = Math.max(0, Math.round(seconds));
  if (wholeS < 60) return `${String(wholeS)} s`;
  const minutes = Math.round(wholeS / 60);
  if (minutes < 60) return `${String(minutes)} min`;
  const [hours, rest] = [Math.floor(minutes / 60), minutes % 60];
  if (hours < 24)
    return rest === 0 ? `${String(hours)} h` : `${String(hours)} h ${String(rest)} min`;
  const [days, left] = [Math.floor(hours / 24), hours % 24];
  return left === 0 ? `${String(days)} d` : `${String(days)} d ${String(left)} h`;
}
