/** The goat dairy for tests of the simulator: both loads metered and wired on their own. */
import type { SiteSettings } from "../../config/site-settings.ts";
import { testControl, testLoad, testSite } from "../support/site.ts";

export function simulatedSite(): SiteSettings {
  const control = testControl();
  const told = { hasReport: true, hasMeter: true } as const;
  return testSite({
    control: {
      ...control,
      battery: {
        ...control.battery,
        ratedHours: 20,
        coulombicEfficiencyFraction: 0.995,
        absorptionVoltageV: 56,
        fullAfterMs: 300_000,
        resistanceOhm: 0.008,
        fullChargeEveryDays: 14,
      },
      panels: [],
      loads: [
        testLoad({
          id: "water-heater",
          label: "Water heater",
          stagesW: [1000, 2000],
          tank: { surplusC: 68, hysteresisK: 4, limitC: 75, volumeL: null },
          ...told,
        }),
        testLoad({
          id: "spring-pump",
          label: "Spring pump",
          priority: 2,
          stagesW: [750],
          minRestMs: 720_000,
          ...told,
        }),
      ],
    },
    telemetry: [],
    actuators: [],
  });
}
