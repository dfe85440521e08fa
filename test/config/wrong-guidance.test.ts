/** Wrong descriptions of hand-started appliances; and what right ones come to. */
import { expect, test } from "vitest";
import { validSite } from "./valid-site.ts";
import { changed, expectRefused, parse, rowsOf } from "./wrong-rows.ts";
import type { Row } from "./wrong-rows.ts";

const VALID = validSite(
  `loads: []
guidance:
  - id: pail-washer
    label: Washing machine
    profile:
      - { power: 2.1 kW, for: 20 min }
      - { power: 250 W, for: 60 min }
    latestFinish: "17:00"
  - id: bread-oven
    power: 2.4 kW
    for: 90 min
    windows:
      - { from: "06:00", to: "20:00" }
`,
);

const row = rowsOf(VALID);

const ROWS: readonly Row[] = [
  row("2.1 kW", "‸9 kW", "never-fits guidance.pail-washer.profile.[0].power 8 kW"),
  row("2.4 kW", "‸8.1 kW", "never-fits guidance.bread-oven.power 8 kW"),
  row("    for: 90 min\n", "", "27:5 profile-missing guidance.bread-oven power and for, both"),
  row("    power: 2.4 kW\n", "", "27:5 profile-missing guidance.bread-oven power and for, both"),
  row(
    "    power: 2.4 kW\n    for: 90 min\n",
    "",
    "27:5 profile-missing guidance.bread-oven power and for, or a profile",
  ),
  row(
    "    latestFinish",
    "    power: 1 kW\n    latestFinish",
    "24:7 profile-twice guidance.pail-washer.profile either",
  ),
  row(
    "id: bread-oven",
    "id: ‸pail-washer",
    "duplicate-id guidance.pail-washer.id a name that nothing else",
  ),
  row("2.4 kW", "‸2400", "unit-missing guidance.bread-oven.power unit"),
  row("90 min", "‸20 h", "out-of-range guidance.bread-oven.for 1 min to 12 h"),
  row("for: 60 min", "for: 12 h", "24:7 run-too-long guidance.pail-washer.profile 12 h at most"),
  row('"17:00"', '‸"01:10"', "never-done guidance.pail-washer.latestFinish 80 min"),
  row('"17:00"', "‸noon", "out-of-range guidance.pail-washer.latestFinish local time"),
  row('"20:00"', '"07:00"', "31:7 never-done guidance.bread-oven.windows 90 min"),
  row('"20:00"', '‸"06:00"', "window-empty guidance.bread-oven.windows.[0].to another time"),
  row("label:", "‸lable:", "unknown-key guidance.pail-washer.lable did you mean label"),
];

test.each(ROWS)("$from → $to", (one) => {
  expectRefused(VALID, one);
});

test("right ones come to pieces of power and time", () => {
  const { appliances, warnings } = parse(VALID);
  expect(warnings).toEqual([]);
  expect(appliances).toEqual([
    {
      id: "pail-washer",
      label: "Washing machine",
      profile: [
        { powerW: 2100, forMs: 1_200_000 },
        { powerW: 250, forMs: 3_600_000 },
      ],
      latestFinishMinute: 1020,
      windows: [],
    },
    {
      id: "bread-oven",
      label: "bread-oven",
      profile: [{ powerW: 2400, forMs: 5_400_000 }],
      latestFinishMinute: null,
      windows: [{ fromMinute: 360, toMinute: 1200 }],
    },
  ]);
});

test("a site without any has none", () => {
  const [before] = VALID.split("guidance:");
  expect(parse(before!).appliances).toEqual([]);
});

test("one key can be changed for a run", () => {
  const { appliances } = parse(VALID, ["guidance.bread-oven.power=3 kW"]);
  expect(appliances[1]?.profile[0]?.powerW).toBe(3000);
});

test("an hour is enough when the window holds the run to the minute", () => {
  const tight = changed(VALID, '"20:00"', '"07:30"');
  expect(parse(tight).appliances[1]?.windows[0]?.toMinute).toBe(450);
});
