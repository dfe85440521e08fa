/** Rules about a load's deadline: that it can be met, and that what it rests on is measured. */
import { errorAt } from "./findings.ts";
import type { Finding, SettingsPath } from "./findings.ts";
import type { PartialFile } from "./partial-file.ts";
import { formatQuantity } from "./quantities.ts";
import type { LoadSection } from "./schema.ts";
import { stagesOf } from "./to-load.ts";

const MS_PER_HOUR = 3_600_000;

export function deadlineChecks(
  file: PartialFile,
  load: LoadSection,
  path: SettingsPath,
): Finding[] {
  if (load.deadline === undefined) return [];
  const at = (key: string): SettingsPath => [...path, "deadline", key];
  return [
    ...timeFindings(load.deadline, at),
    ...floorFindings(file, load.deadline, at),
    ...tankFindings(load, load.deadline, at),
    ...quotaFindings(load, load.deadline, at),
  ];
}

type Deadline = NonNullable<LoadSection["deadline"]>;
type At = (key: string) => SettingsPath;

function timeFindings({ by }: Deadline, at: At): Finding[] {
  if (by < 1440) return [];
  const suggestion = '"23:59"';
  return [errorAt(at("by"), "out-of-range", { expected: "from 00:00 to 23:59", suggestion })];
}

function floorFindings(file: PartialFile, { mayDrawTo }: Deadline, at: At): Finding[] {
  const floor = file.battery?.floor;
  if (mayDrawTo === undefined || floor === undefined || mayDrawTo > floor) return [];
  const expected = `above the battery's floor, ${formatQuantity(floor, "fraction")}`;
  return [errorAt(at("mayDrawTo"), "deadline-under-floor", { expected })];
}

function tankFindings(load: LoadSection, { reach }: Deadline, at: At): Finding[] {
  if (reach.kind !== "temperature") return [];
  const tank = load.kind === "sockets" ? undefined : load.tank;
  if (tank?.volume === undefined) {
    const missing = tank === undefined ? "a tank" : "the tank's volume";
    return [
      errorAt(at("reach"), "deadline-without-tank", {
        expected: `${missing}: without it nobody knows how long the water takes`,
        suggestion: "give tank.volume and tank.sensor, or reach a time or an energy",
      }),
    ];
  }
  if (reach.temperatureC < tank.surplus) return [];
  const expected = `under the tank's surplus, ${formatQuantity(tank.surplus, "temperature")}`;
  return [errorAt(at("reach"), "deadline-out-of-reach", { expected })];
}

/** More than the day allows can't be reached by any time of it. */
function quotaFindings(load: LoadSection, { reach }: Deadline, at: At): Finding[] {
  const amount = load.quota?.atMost;
  if (amount === undefined || reach.kind === "temperature") return [];
  const mostW = Math.max(...stagesOf(load));
  const leastWh = amount.kind === "run" ? (amount.runMs / MS_PER_HOUR) * mostW : amount.energyWh;
  const reachWh = reach.kind === "run" ? (reach.runMs / MS_PER_HOUR) * mostW : reach.energyWh;
  if (reachWh <= leastWh) return [];
  const shown =
    amount.kind === "run"
      ? formatQuantity(amount.runMs, "duration")
      : formatQuantity(amount.energyWh, "energy");
  return [errorAt(at("reach"), "deadline-over-quota", { expected: `within its quota, ${shown}` })];
}
