/** Rules about hand-started appliances: what they draw, and whether any hour is left for a run. */
import { greatestPowerW, isAllowed, runMs } from "../service/control/guidance/appliance.ts";
import type { Appliance } from "../service/control/guidance/appliance.ts";
import { errorAt } from "./findings.ts";
import type { Finding, SettingsPath } from "./findings.ts";
import type { PartialFile } from "./partial-file.ts";
import { formatQuantity } from "./quantities.ts";
import { RUN_MAX_MS } from "./schema-guidance.ts";
import type { ApplianceSection } from "./schema-guidance.ts";
import { toAppliance } from "./to-guidance.ts";

const MINUTE_MS = 60_000;
const DAY_MINUTES = 1440;

export function guidanceChecks(file: PartialFile): readonly Finding[] {
  return file.guidance.flatMap((section, index) => {
    if (section === undefined) return [];
    const path = ["guidance", index];
    const unclear = profileFindings(section, path);
    if (unclear.length > 0) return unclear;
    const appliance = toAppliance(section);
    return [...powerFindings(file, appliance, path), ...hourFindings(appliance, path)];
  });
}

function profileFindings(section: ApplianceSection, path: SettingsPath): Finding[] {
  const isWhole = section.power !== undefined && section.for !== undefined;
  const isHalf = (section.power === undefined) !== (section.for === undefined);
  if (section.profile === undefined && !isWhole) {
    return [
      errorAt(path, "profile-missing", {
        expected: isHalf ? "power and for, both" : "power and for, or a profile",
        suggestion: "power: 2 kW, for: 90 min",
      }),
    ];
  }
  if (section.profile !== undefined && (isWhole || isHalf)) {
    return [
      errorAt([...path, "profile"], "profile-twice", {
        expected: "either power and for, or a profile",
      }),
    ];
  }
  return [];
}

function powerFindings(file: PartialFile, appliance: Appliance, path: SettingsPath): Finding[] {
  const mostW = file.inverter?.continuous;
  if (mostW === undefined || greatestPowerW(appliance) <= mostW) return [];
  const place = appliance.profile.findIndex(({ powerW }) => powerW > mostW);
  const isPiece = appliance.profile.length > 1;
  return [
    errorAt([...path, ...(isPiece ? ["profile", place, "power"] : ["power"])], "never-fits", {
      expected: `no more than the inverter gives, ${formatQuantity(mostW, "power")}`,
    }),
  ];
}

function hourFindings(appliance: Appliance, path: SettingsPath): Finding[] {
  const wholeMs = runMs(appliance);
  if (wholeMs > RUN_MAX_MS) {
    return [errorAt([...path, "profile"], "run-too-long", { expected: "a run of 12 h at most" })];
  }
  const empty = appliance.windows.findIndex((one) => one.fromMinute === one.toMinute);
  if (empty >= 0) {
    const expected = "another time than from; leave windows out for any hour";
    return [errorAt([...path, "windows", empty, "to"], "window-empty", { expected })];
  }
  const minutes = Math.ceil(wholeMs / MINUTE_MS);
  for (let fromMinute = 0; fromMinute < DAY_MINUTES; fromMinute += 1) {
    const lastMinute = fromMinute + minutes - 1;
    const toDay = Math.floor(lastMinute / DAY_MINUTES);
    const toMinute = lastMinute % DAY_MINUTES;
    if (isAllowed(appliance, { fromDay: 0, fromMinute, toDay, toMinute })) return [];
  }
  const key = appliance.latestFinishMinute === null ? "windows" : "latestFinish";
  const shown = formatQuantity(wholeMs, "duration");
  return [errorAt([...path, key], "never-done", { expected: `an hour at which ${shown} fit` })];
}
