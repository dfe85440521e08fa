/**
 * The published values that the models are held to, one representative row of each; the tests in
 * this folder have all of them. `docs/checks.md` is written from this list by `npm run checks`.
 */
import { faimanCellTemperatureC } from "../../service/solar/cell-temperature.ts";
import { clearSkyOf } from "../../service/solar/clear-sky.ts";
import { erbs } from "../../service/solar/decomposition.ts";
import { extraterrestrialWm2 } from "../../service/solar/extraterrestrial.ts";
import { sunPosition, sunTimes } from "../../service/solar/sun.ts";
import { groundWm2, isotropicSkyWm2 } from "../../service/solar/transposition.ts";
import { effectiveDischargeA } from "../../service/control/state-of-charge.ts";
import { fuelLPerH } from "../../simulator/plant/generator.ts";
import { hydraulicPowerW } from "../../simulator/plant/hydraulics.ts";
import { capacityAh, dischargeMaxA, fitKibam, restedTanks } from "../../simulator/plant/kibam.ts";
import { restVoltageV } from "../../simulator/plant/lead-acid-cell.ts";
import { cellVoltageV } from "../../simulator/plant/lfp-cell.ts";
import { WATER_WH_PER_LK } from "../../simulator/plant/tank-heater.ts";
import { PROFILE_M } from "../../simulator/plant/tapping-profile.ts";
import { ineichenSky, pressurePa, relativeAirmass } from "../../simulator/weather/sky.ts";
import { floodedBattery } from "../control/given.ts";

export interface PublishedValue {
  readonly quantity: string;
  readonly unit: string;
  /** Title, number and table, or who computed it from what. */
  readonly source: string;
  readonly expected: number;
  readonly tolerance: number;
  readonly got: number;
}

const SPA = "Reda & Andreas, NREL/TP-560-34302, table A5.1";
const SOLIS = "pvlib test_clearsky.py, simplified Solis, Ineichen 2008";
const KIBAM = "Two-tank battery test of the SSC library (NREL), after Manwell & McGowan 1993";
const REST = "Battery maker's table of rest voltages at 26.7 °C";
const CHART = "Diesel consumption chart, 20 kW row (widely reprinted)";
const LFP = "Sunil et al., IEEE TIM 2025, open data, C/32 curve of an LFP cell";

export function publishedValues(): readonly PublishedValue[] {
  return [...sunAndSky(), ...modelSky(), ...batteries(), ...waterAndFuel()];
}

function sunAndSky(): readonly PublishedValue[] {
  const sun = sunPosition(Date.parse("2003-10-17T12:30:30-07:00"), 39.742476, -105.1786);
  const noonMs = Date.parse("2015-08-02T12:00:00-07:00");
  const { sunriseMs } = sunTimes(noonMs, 39.742476, -105.1786);
  const sunrise = ((sunriseMs ?? NaN) - Date.parse("2015-08-02T00:00:00-07:00")) / 60_000;
  const sky = ineichenSky({
    zenithDeg: 46.0467599,
    absoluteAirmass: 1.32355476,
    linkeTurbidity: 3,
    elevationM: 0,
    extraterrestrialWm2: 1364,
  });
  const split = erbs(1000, 10, extraterrestrialWm2(1));
  return [
    value("sun's zenith", "°", [SPA, 50.11162, 0.02, 90 - sun.altitudeDeg]),
    value("sun's azimuth", "°", [SPA, 194.34024, 0.02, sun.azimuthDeg]),
    value("sunrise at Golden, 2 Aug 2015", "min", ["USNO almanac, 05:00", 300, 1.5, sunrise]),
    value("clear sky, global", "W/m²", [
      "pvlib test_clearsky.py, Ineichen & Perez",
      704.6968125,
      0.007,
      sky.globalWm2,
    ]),
    value("clear sky, beam", "W/m²", [
      "pvlib test_clearsky.py, Ineichen & Perez",
      888.90147035,
      0.009,
      sky.beamNormalWm2,
    ]),
    value("airmass at 80°", "1", ["Kasten & Young 1989", 5.586, 0.001, relativeAirmass(80)]),
    value("air pressure at 1000 m", "Pa", [
      "pvlib test_atmosphere.py",
      89_874.75,
      0.01,
      pressurePa(1000),
    ]),
    value("diffuse part of 1000 W/m²", "W/m²", [
      "pvlib test_irradiance.py, Erbs 1982",
      217.860117,
      0.01,
      split.diffuseWm2,
    ]),
    value("sky's light on a plane at 40°", "W/m²", [
      "pvlib test_irradiance.py, isotropic",
      88.30222,
      1e-5,
      isotropicSkyWm2(40, 100),
    ]),
    value("ground's light on a plane at 40°", "W/m²", [
      "pvlib test_irradiance.py, albedo 0.25",
      26.32000015,
      1e-5,
      groundWm2(40, 900, 0.25),
    ]),
    value("cell temperature", "°C", [
      "pvlib test_temperature.py, Faiman",
      35.203,
      0.001,
      faimanCellTemperatureC(900, 20, 5),
    ]),
  ];
}

/** The clear sky that the daemon reckons with; the simulator's is the one above. */
function modelSky(): readonly PublishedValue[] {
  const air = { elevationM: 0, opticalDepth: 0.1, waterCm: 1 };
  const clean = clearSkyOf(air)(80, 1364);
  const hazy = clearSkyOf({ ...air, opticalDepth: 0.5, waterCm: 10 })(80, 1364);
  const dry = clearSkyOf({ ...air, waterCm: 0 })(80, 1364);
  return [
    value("clean sky of the model, global", "W/m²", [SOLIS, 1064.65314509, 0.001, clean.globalWm2]),
    value("clean sky of the model, beam", "W/m²", [SOLIS, 959.3354628, 0.001, clean.beamNormalWm2]),
    value("hazy, damp sky, global", "W/m²", [SOLIS, 760.04527609, 0.001, hazy.globalWm2]),
    value("hazy, damp sky, beam", "W/m²", [SOLIS, 530.31697378, 0.001, hazy.beamNormalWm2]),
    value("sky without water, beam", "W/m²", [SOLIS, 1001.15353307, 0.001, dry.beamNormalWm2]),
  ];
}

function batteries(): readonly PublishedValue[] {
  const fitted = fitKibam({ ratedHours: 20, ratedAh: 100, halfAh: 93, hourAh: 60 });
  const half = restedTanks(fitted, fitted.chargeMaxAh / 2);
  const rated = floodedBattery({ capacityAh: 100, ratedHours: 20, peukertExponent: 1.2 });
  return [
    value("two tanks: rate", "1/h", [KIBAM, 0.677, 1e-4, fitted.ratePerH]),
    value("two tanks: share", "1", [KIBAM, 0.47511, 1e-4, fitted.availableFraction]),
    value("two tanks: charge", "Ah", [KIBAM, 108.1593, 0.001, fitted.chargeMaxAh]),
    value("two tanks: capacity in 1 h", "Ah", [KIBAM, 60, 0.03, capacityAh(fitted, 1)]),
    value("two tanks: half full, 1 h", "A", [KIBAM, 30, 0.06, dischargeMaxA(fitted, half, 1)]),
    value("Peukert: 100 Ah, k 1.2, at 10 A", "h", [
      "t = H·(C/(I·H))^k, worked by hand",
      8.7055,
      5e-5,
      100 / effectiveDischargeA(10, rated),
    ]),
    value("six lead-acid cells at 50 %", "V", [REST, 12.24, 0.005, 6 * restVoltageV(0.5)]),
    value("six lead-acid cells, full", "V", [REST, 12.65, 0.005, 6 * restVoltageV(1)]),
    value("LFP cell at 29.72 %", "V", [LFP, 3.2772, 0.002, cellVoltageV(0.2972)]),
    value("LFP cell at 98.33 %", "V", [LFP, 3.3511, 0.002, cellVoltageV(0.9833)]),
  ];
}

function waterAndFuel(): readonly PublishedValue[] {
  const drawnWh = PROFILE_M.reduce((sum, { energyWh }) => sum + energyWh, 0);
  const galPerH = fuelLPerH(20_000, 10_000) / 3.785411784;
  return [
    value("200 L from 15 to 60 °C", "kWh", [
      "IAPWS-95 properties, worked by hand",
      10.44,
      0.052,
      (200 * 45 * WATER_WH_PER_LK) / 1000,
    ]),
    value("tapping profile M, a day", "kWh", [
      "EU 812/2013, annex VII, table 3",
      5.845,
      1e-9,
      drawnWh / 1000,
    ]),
    value("10 L/s falling 10 m", "W", [
      "ρ·g·Q·H, by hand",
      980.665,
      1e-6,
      hydraulicPowerW(600, 10),
    ]),
    value("diesel at half load", "gal/h", [CHART, 0.9, 0.09, galPerH]),
  ];
}

function value(
  quantity: string,
  unit: string,
  [source, expected, tolerance, got]: readonly [string, number, number, number],
): PublishedValue {
  return { quantity, unit, source, expected, tolerance, got };
}
