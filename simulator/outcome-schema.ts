/** The form of a replay's result, for those who read it by program: `bywash schema --of replay`. */
import { z } from "zod";

const figure = z.number();
/** Settings as they were used; their form is the settings' own business. */
const record = z.record(z.string(), z.unknown());

const totals = {
  divertedWh: figure.describe("AC energy that opportunity loads took"),
  usefulDivertedWh: figure.describe("the part of it that was of use"),
  curtailedWh: figure.describe("what the sources could have given and nobody took"),
  potentialWh: figure.describe("what the sources could have given"),
  baseLoadWh: figure.describe("everyday use"),
  unservedWh: figure.describe("everyday use that went without"),
  batteryThroughputWh: figure.describe("what the battery gave at its terminals"),
  minSocPercent: figure,
  endSocPercent: figure,
  generatorWh: figure,
  reserveDrawnWh: figure.describe("discharge by these loads below what the rule curve allows"),
  reserveDays: figure.describe("days below the floor that need not have been"),
  sunsetMisses: figure.describe("days under the sunset target that need not have been"),
  absorptionMisses: figure.describe("days too long without a full charge that need not have been"),
  starts: figure,
  reconstructedFraction: figure.describe("share of the potential that was not measured"),
  boundShareFraction: figure.nullable(),
  regretWh: figure.nullable(),
};

const load = z.strictObject({
  energyWh: figure,
  usefulWh: figure,
  starts: figure,
  shortestRunS: figure.nullable(),
  shortestRestS: figure.nullable(),
  longestRunS: figure.nullable(),
});

const bound = z.strictObject({
  usefulDivertedWh: figure,
  gapWh: figure,
  status: z.string(),
  sunsetMisses: figure,
});

const ranged = z.strictObject({
  potentialWh: figure,
  curtailedWh: figure,
  divertedWh: figure,
  usefulDivertedWh: figure,
});

export const outcomeSchema = z.strictObject({
  formatVersion: z.literal(1),
  days: figure,
  plant: record.describe("the simulated shed"),
  settings: z.strictObject({ site: z.string(), control: record }),
  totals: z.strictObject(totals),
  loads: z.record(z.string(), load),
  bound: bound.nullable().describe("the best that any controller could have done"),
  range: z
    .strictObject({ low: ranged, high: ranged })
    .nullable()
    .describe("within which the totals lie, where part of the potential was inferred"),
  unused: z
    .strictObject({
      unwantedWh: figure.describe("no load wanted more"),
      batteryFirstWh: figure.describe("a load waited for the battery"),
      tooLittleWh: figure.describe("too little for a load, or not sure to be enough"),
      itsTurnWh: figure.describe("a load rested, or waited its turn or its hours"),
      noRoomWh: figure.describe("inverter, feeder, legs or battery had no room"),
      heldOffWh: figure.describe("a load was held off"),
    })
    .describe("what of curtailedWh a load would have taken, and why it did not"),
  perDay: z.array(z.strictObject({ date: z.iso.date(), ...totals })),
});
