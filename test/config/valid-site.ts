/** The small valid settings file that the tables of wrong settings change in one place each. */

/** In the order of the file, which their lines are counted by. */
const USUAL = {
  site: "site: { id: malga, latitude: 44.2, longitude: 6.9, timeZone: Europe/Rome }",
  broker: "broker: { embedded: { port: 0 } }",
  battery: `battery:
  chemistry: lfp
  capacity: 400 Ah
  nominalVoltage: 51.2 V
  floor: 60 %
  sunsetTarget: 92 %`,
  arrays: `arrays:
  - { id: roof, peak: 6.6 kW, tilt: 38 deg, azimuth: 172 deg }`,
  inverter: "inverter: { continuous: 8 kW, surge: 16 kVA }",
  ruleCurve: "ruleCurve: { mode: fixed, at: 94 % }",
  telemetry: `telemetry:
  battery.soc: { topic: shed/battery, field: /soc, unit: "%" }
  battery.voltage: { topic: shed/battery, field: /v, unit: V }
  battery.current: { topic: shed/battery, field: /i, unit: A }
  inverter.power: { topic: shed/inverter, unit: W }`,
};

type Sections = typeof USUAL;

/**
 * @param rest - What comes after the usual sections: panels, loads and so on.
 * @param own - Sections in place of the usual ones, with their keys.
 */
export function validSite(rest: string, own: Partial<Sections> = {}): string {
  return ["version: 1", ...Object.values({ ...USUAL, ...own }), rest].join("\n");
}
