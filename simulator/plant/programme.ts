/**
 * An appliance with a programme (a washing machine): started by a person, it draws one power after
 * the other and then stops by itself.
 *
 * @check test/simulator/plant-loads.test.ts
 */
export interface ProgrammePart {
  readonly powerW: number;
  /** [s] > 0 */
  readonly durationS: number;
}

export interface ProgrammeSettings {
  readonly id: string;
  readonly parts: readonly ProgrammePart[];
  /** Minutes after local midnight at which somebody starts it, every day. */
  readonly startMinutes: readonly number[];
}

/** Changes in place. */
export interface Programme {
  readonly settings: ProgrammeSettings;
  /** Time since its start; null: it stands still. [s] */
  ranS: number | null;
  lastMinute: number | null;
}

export function createProgramme(settings: ProgrammeSettings): Programme {
  return { settings, ranS: null, lastMinute: null };
}

/** Lets `dtS` pass; a start falls on the first step of its minute. @returns its mean power. [W] */
export function programmePowerW(programme: Programme, localMinute: number, dtS: number): number {
  const minute = Math.floor(localMinute);
  const isNewMinute = minute !== programme.lastMinute;
  if (dtS > 0) programme.lastMinute = minute;
  if (isNewMinute && dtS > 0 && programme.settings.startMinutes.includes(minute)) {
    programme.ranS ??= 0;
  }
  if (programme.ranS === null) return 0;
  const fromS = programme.ranS;
  const energyWs = energyBetweenWs(programme.settings.parts, fromS, fromS + dtS);
  programme.ranS = fromS + dtS >= lengthS(programme.settings.parts) ? null : fromS + dtS;
  return dtS === 0 ? 0 : energyWs / dtS;
}

function lengthS(parts: readonly ProgrammePart[]): number {
  return parts.reduce((sum, { durationS }) => sum + durationS, 0);
}

function energyBetweenWs(parts: readonly ProgrammePart[], fromS: number, toS: number): number {
  let beginS = 0;
  let energyWs = 0;
  for (const { powerW, durationS } of parts) {
    const sharedS = Math.min(toS, beginS + durationS) - Math.max(fromS, beginS);
    if (sharedS > 0) energyWs += powerW * sharedS;
    beginS += durationS;
  }
  return energyWs;
}
