// A made-up day of a site with 20 signals at 1 Hz, as the latest-value table would show it.

/** Repeatable noise, −1…1. */
function createNoise(seed) {
  let state = seed;
  return () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    return state / 2147483648 - 1;
  };
}

const UNMAPPED = { value: 0, quality: "unmapped", ageMs: 0 };
const UNMAPPED_TRUTH = { value: false, quality: "unmapped", ageMs: 0 };
const UNMAPPED_STAGE = { value: "bulk", quality: "unmapped", ageMs: 0 };

/**
 * Digits as meters send them, and a factor where the unit needs one. Messages of one device come
 * together; each device has a phase of its own and jitter of some ms.
 */
export function createSignals({ loads, isWhole }) {
  const noise = createNoise(1);
  const device = (phaseMs) => ({ phaseMs, arrivedMs: null });
  const [battery, inverter, roof] = [device(130), device(470), device(810)];
  const meters = Array.from({ length: loads }, (_, index) => device(100 + 170 * index));
  const devices = [battery, inverter, roof, ...meters];
  const tidy = (ms) => (isWhole ? Math.round(ms) : ms);
  return (nowMs, { stages, arePanelsClosed }) => {
    for (const one of devices) {
      const second = Math.floor((nowMs - one.phaseMs) / 1000);
      const arrived = second * 1000 + one.phaseMs + 4 + 4 * noise();
      one.arrivedMs = tidy(Math.min(arrived, nowMs));
    }
    const at = tidy(nowMs);
    const reading = ({ arrivedMs }, value) => ({ value, quality: "fresh", ageMs: at - arrivedMs });
    const sun = Math.max(0, Math.sin((nowMs / 86_400_000) * 2 * Math.PI - Math.PI / 2));
    const digits = (value, count) => Number(value.toFixed(count));
    const pvW = Math.round(6000 * sun * (0.9 + 0.1 * noise()));
    const loadPower = (index) => (stages[index] > 0 ? Math.round(750 + 5 * noise()) : 0);
    return {
      at,
      battery: {
        socFraction: reading(battery, digits(70 + 25 * sun, 1) * 0.01),
        voltageV: reading(battery, digits(52 + 3 * sun + 0.05 * noise(), 2)),
        currentA: reading(battery, digits(pvW / 53 - 20 + 2 * noise(), 1)),
        temperatureC: reading(battery, digits(18 + 4 * sun, 1)),
        chargeStage: UNMAPPED_STAGE,
        isChargeBlocked: reading(battery, false),
        isDischargeBlocked: reading(battery, false),
        chargeLimitA: reading(battery, 200),
        dischargeLimitA: reading(battery, 200),
      },
      sources: [{ powerW: reading(roof, pvW), dumpPowerW: UNMAPPED, chargeStage: UNMAPPED_STAGE }],
      inverter: {
        powerW: reading(inverter, Math.round(900 + 40 * noise())),
        temperatureC: reading(inverter, digits(35 + 10 * sun + 0.1 * noise(), 1)),
        acVoltageV: reading(inverter, digits(230 + noise(), 1)),
        frequencyHz: reading(inverter, digits(50 + 0.02 * noise(), 2)),
        isFaulty: reading(inverter, false),
        legPowersW: [],
      },
      isGeneratorRunning: UNMAPPED_TRUTH,
      generatorPowerW: UNMAPPED,
      dcLoadsPowerW: UNMAPPED,
      forecast: { todayWh: UNMAPPED, tomorrowWh: UNMAPPED },
      irradianceWm2: UNMAPPED,
      unlearn: "none",
      loads: meters.map((meter, index) => ({
        reportedStage: reading(meter, stages[index]),
        powerW: reading(meter, loadPower(index)),
        isByHand: UNMAPPED_TRUTH,
        tankTemperatureC:
          index === 0 ? reading(meter, digits(45 + 20 * sun + 0.1 * noise(), 1)) : UNMAPPED,
        flowLPerMin: UNMAPPED,
        isSourceLow: UNMAPPED_TRUTH,
        levelFraction: UNMAPPED,
        pipeTemperatureC: UNMAPPED,
        isPressed: UNMAPPED_TRUTH,
        request: "none",
        requestForMs: 0,
      })),
      panels: arePanelsClosed.map((isClosed) => ({
        isClosed: reading(inverter, isClosed),
        powerW: UNMAPPED,
        request: "none",
      })),
    };
  };
}
