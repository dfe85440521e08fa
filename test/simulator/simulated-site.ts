/** The goat dairy as checked settings, for tests of the simulator alone. */
import type { SiteSettings } from "../../config/site-settings.ts";
import type { LoadSettings } from "../../service/control/settings.ts";

const LOAD: Omit<LoadSettings, "id" | "label" | "stagesW" | "tank"> = {
  panelIndex: null,
  priority: 1,
  startPowerVA: null,
  startAboveFraction: 0.02,
  startForMs: 120_000,
  stopBelowFraction: 0.02,
  stopForMs: 60_000,
  minRunMs: 600_000,
  minRestMs: 300_000,
  startsPerHourMax: null,
  windows: [],
  quotaRunMs: null,
  quotaEnergyWh: null,
  settleMs: 10_000,
  hasReport: true,
  hasMeter: true,
  hasByHandInput: false,
  latchAfter: 3,
  mayLoadGenerator: false,
};

const HEATER: LoadSettings = {
  ...LOAD,
  id: "water-heater",
  label: "Water heater",
  stagesW: [1000, 2000],
  tank: { surplusC: 68, hysteresisK: 4, limitC: 75 },
};

const PUMP: LoadSettings = {
  ...LOAD,
  id: "spring-pump",
  label: "Spring pump",
  priority: 2,
  stagesW: [750],
  minRestMs: 720_000,
  tank: null,
};

export function simulatedSite(): SiteSettings {
  return {
    id: "malga",
    label: "Malga",
    timeZone: "Europe/Rome",
    control: {
      tickMs: 2000,
      latitudeDeg: 44.2,
      longitudeDeg: 6.9,
      elevationM: 1350,
      battery: {
        chemistry: "lfp",
        capacityAh: 400,
        ratedHours: 20,
        peukertExponent: 1,
        coulombicEfficiencyFraction: 0.995,
        nominalVoltageV: 51.2,
        floorFraction: 0.6,
        floorMarginFraction: 0.01,
        sunsetTargetFraction: 0.92,
        absorptionVoltageV: 56,
        floatVoltageV: 54,
        compensationVPerK: 0,
        tailCurrentA: 8,
        fullAfterMs: 300_000,
        lowVoltageV: 48,
        highVoltageV: 58,
        resistanceOhm: 0.008,
        voltageMode: null,
        socDisagreementFraction: 0.1,
        fullChargeEveryDays: 14,
        toleranceW: 100,
      },
      sources: [
        {
          id: "roof",
          kind: "array",
          peakW: 6600,
          tiltDeg: 38,
          azimuthDeg: 172,
          currentLimitA: null,
        },
      ],
      inverter: {
        continuousW: 8000,
        surgeVA: 16_000,
        idleW: 35,
        efficiencyFraction: 0.92,
        temperatureMaxC: null,
        acVoltage: null,
        frequency: null,
      },
      ruleCurve: { kind: "fixed", atFraction: 0.94 },
      panels: [],
      loads: [HEATER, PUMP],
      staggerMs: 10_000,
    },
    broker: {
      url: null,
      embedded: { host: "127.0.0.1", port: 0 },
      protocolVersion: 5,
      username: null,
      passwordFile: null,
    },
    web: { host: "127.0.0.1", port: 0, tokenFile: "token" },
    telemetry: [],
    actuators: [],
    warnings: [],
  };
}
