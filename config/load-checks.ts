/** Rules about loads and panels: marks, times, quotas, names, holds. */
import { deadlineChecks } from "./deadline-checks.ts";
import { errorAt, warningAt } from "./findings.ts";
import type { Finding, SettingsPath } from "./findings.ts";
import type { PartialFile } from "./partial-file.ts";
import { kindChecks } from "./kind-checks.ts";
import { formatQuantity } from "./quantities.ts";
import type { LoadSection } from "./schema.ts";
import { pumpChecks } from "./pump-checks.ts";
import { legFindings, powerFindings } from "./power-checks.ts";
import { nearestWord } from "./suggestions.ts";
import { tankChecks } from "./tank-checks.ts";
import { stagesOf } from "./to-load.ts";

/** A hold must outlast two lost repeats, or one lost message drops the load. */
const HOLD_PER_REPEAT_MIN = 2.5;

export function loadChecks(file: PartialFile): readonly Finding[] {
  const loads = file.loads.flatMap((load, index) => {
    if (load === undefined) return [];
    const path = ["loads", index];
    return [
      ...markFindings(file, load, path),
      ...paceFindings(file, load, path),
      ...powerFindings(file, load, path),
      ...legFindings(file, load, path),
      ...panelFindings(file, load, path),
      ...windowFindings(load, path),
      ...quotaFindings(load, path),
      ...deadlineChecks(file, load, path),
      ...tankChecks(load, path),
      ...pumpChecks(load, path),
      ...kindChecks(file, load, path),
      ...commandFindings(load, path),
      ...confirmationFindings(load, path),
    ];
  });
  const panels = file.panels.flatMap((panel, index) =>
    panel === undefined
      ? []
      : holdFindings(panel.contactor.command, ["panels", index, "contactor", "command"]),
  );
  return [...loads, ...panels, ...priorityFindings(file)];
}

function markFindings(file: PartialFile, load: LoadSection, path: SettingsPath): Finding[] {
  const above = load.start.aboveRuleCurve;
  const below = load.stop.belowRuleCurve;
  const findings: Finding[] = [];
  const shown = (fraction: number): string => formatQuantity(fraction, "fraction");
  if (above + below <= 0) {
    findings.push(
      errorAt([...path, "stop", "belowRuleCurve"], "marks-crossed", {
        found: `start mark ${shown(above)}, stop mark ${shown(-below)} from the rule curve`,
        expected: "a stop mark under the start mark",
        suggestion: "2 % each",
      }),
    );
  }
  const at = file.ruleCurve?.at;
  if (at !== undefined && at + above > 1) {
    findings.push(
      errorAt([...path, "start", "aboveRuleCurve"], "never-starts", {
        found: `start mark at ${shown(round(at + above))}`,
        expected: `a mark the battery can reach; the rule curve is at ${shown(at)}`,
      }),
    );
  }
  const floor = file.battery?.floor;
  if (at !== undefined && floor !== undefined && at - below < floor) {
    findings.push(
      warningAt([...path, "stop", "belowRuleCurve"], "stop-under-floor", {
        expected: `the stop mark ${shown(round(at - below))} lies under the floor ${shown(floor)}`,
        suggestion: "the floor will stop it at once, without its minimum run",
      }),
    );
  }
  return findings;
}

function paceFindings(file: PartialFile, load: LoadSection, path: SettingsPath): Finding[] {
  const tick = file.site?.tick;
  if (tick === undefined || load.minRun >= tick) return [];
  return [
    errorAt([...path, "minRun"], "run-under-tick", {
      expected: `at least one tick, ${formatQuantity(tick, "duration")}`,
    }),
  ];
}

function panelFindings(file: PartialFile, load: LoadSection, path: SettingsPath): Finding[] {
  const { ids, isOpen } = file.names.panels;
  if (load.panel === undefined || ids.includes(load.panel) || isOpen) return [];
  const near = nearestWord(load.panel, ids);
  return [
    errorAt([...path, "panel"], "unknown-panel", {
      expected: ids.length === 0 ? "no panel: the file has none" : `one of ${ids.join(", ")}`,
      ...(near === undefined ? {} : { suggestion: `did you mean ${near}?` }),
    }),
  ];
}

function windowFindings(load: LoadSection, path: SettingsPath): Finding[] {
  return load.windows.flatMap(({ from, to }, index) => {
    const at = [...path, "windows", index];
    if (from === 1440) {
      return [errorAt([...at, "from"], "window-empty", { expected: "from 00:00 to 23:59" })];
    }
    if (from === to) {
      const expected = "another time than from; leave windows out for any hour";
      return [errorAt([...at, "to"], "window-empty", { expected })];
    }
    const lengthMs = (to > from ? to - from : to + 1440 - from) * 60_000;
    if (lengthMs >= load.minRun) return [];
    const shown = formatQuantity(load.minRun, "duration");
    const expected = `the window is shorter than minRun, ${shown}`;
    return [warningAt(at, "window-short", { expected })];
  });
}

function quotaFindings(load: LoadSection, path: SettingsPath): Finding[] {
  const amount = load.quota?.atMost;
  if (amount === undefined) return [];
  const leastW = Math.min(...stagesOf(load));
  const oneRunWh = (leastW * load.minRun) / 3_600_000;
  const isTooSmall =
    amount.kind === "run" ? amount.runMs < load.minRun : amount.energyWh < oneRunWh;
  if (!isTooSmall) return [];
  return [
    errorAt([...path, "quota", "atMost"], "quota-under-run", {
      expected: `at least one minimum run of ${formatQuantity(load.minRun, "duration")}`,
    }),
  ];
}

function commandFindings(load: LoadSection, path: SettingsPath): Finding[] {
  const own = holdFindings(load.command, [...path, "command"]);
  if (load.kind !== "sockets" || load.warnBefore === undefined) return own;
  return [...own, ...holdFindings(load.warnBefore, [...path, "warnBefore"])];
}

function holdFindings(
  command: { readonly repeat: number; readonly hold: number },
  path: SettingsPath,
): Finding[] {
  const leastMs = HOLD_PER_REPEAT_MIN * command.repeat;
  const findings: Finding[] = [];
  if (command.hold < leastMs) {
    findings.push(
      errorAt([...path, "hold"], "hold-short", {
        expected: `at least 2.5 times repeat, ${formatQuantity(leastMs, "duration")}`,
      }),
    );
  }
  if ("on" in command && "off" in command && command.on === command.off) {
    findings.push(
      errorAt([...path, "off"], "texts-alike", { expected: "another payload than on" }),
    );
  }
  return findings;
}

function confirmationFindings(load: LoadSection, path: SettingsPath): Finding[] {
  if (load.report !== undefined || load.meter !== undefined) return [];
  return [
    warningAt(path, "not-confirmed", {
      expected: "neither report nor meter: whether it obeys cannot be seen",
    }),
  ];
}

function priorityFindings(file: PartialFile): Finding[] {
  const ranks = file.loads.map((load, index) => load?.priority ?? index + 1);
  return ranks.flatMap((rank, index) => {
    const first = ranks.indexOf(rank);
    if (first === index || file.loads[index]?.priority === undefined) return [];
    return [
      warningAt(["loads", index, "priority"], "priority-shared", {
        expected: `${String(rank)} is also the rank of ${file.loads[first]?.id ?? "another load"}`,
        suggestion: "the one that stands first in the file goes first",
      }),
    ];
  });
}

/** Sums such as 0.94 + 0.02 carry an error in the last digit that no reader wants. */
function round(value: number): number {
  return Math.round(value * 1e6) / 1e6;
}
