/** The loads of a site in words: what `bywash check` prints of each. */
import { formatQuantity } from "../../config/quantities.ts";
import type { ControlSettings, LoadSettings } from "../control/settings.ts";
import { duration, percent, voltAmperes, watts } from "./quantity-text.ts";

export function loadLines(control: ControlSettings): readonly string[] {
  const ordered = control.loads.toSorted((one, other) => one.priority - other.priority);
  return ordered.flatMap((load) => {
    const rank = `${String(load.priority)}. ${load.id}`;
    return [
      `${rank}: ${powerText(load)}`,
      `  ${markText(load, control.ruleCurve.atFraction)}`,
      `  ${paceText(load)}`,
      ...restrictions(load, control).map((text) => `  ${text}`),
    ];
  });
}

function powerText(load: LoadSettings): string {
  const { stagesW, modulating, sockets, startPowerVA: start, powerFactor } = load;
  const usual = stagesW.map(watts).join(" / ");
  const power =
    modulating !== null
      ? `${watts(modulating.minW)} to ${watts(modulating.maxW)} by ${watts(modulating.stepW)}`
      : sockets !== null
        ? `sockets, ${usual} expected, opened above ${watts(sockets.maximumW)}`
        : usual;
  const factor = powerFactor === 1 ? "" : `, power factor ${String(powerFactor)}`;
  return `${power}${factor}${start === null ? "" : `, ${voltAmperes(start)} to start`}`;
}

function markText(load: LoadSettings, ruleCurveFraction: number): string {
  const start = percent(ruleCurveFraction + load.startAboveFraction);
  const stop = percent(ruleCurveFraction - load.stopBelowFraction);
  return (
    `starts from ${start} for ${duration(load.startForMs)}, ` +
    `stops under ${stop} for ${duration(load.stopForMs)}`
  );
}

function paceText(load: LoadSettings): string {
  const limits = [
    load.startsPerHourMax === null ? "" : `${String(load.startsPerHourMax)} starts an hour`,
    load.startsPerDayMax === null ? "" : `${String(load.startsPerDayMax)} starts a day`,
  ].filter((text) => text !== "");
  const most = limits.length === 0 ? "" : `, at most ${limits.join(" and ")}`;
  return `runs ${duration(load.minRunMs)} at least, rests ${duration(load.minRestMs)}${most}`;
}

function restrictions(load: LoadSettings, control: ControlSettings): readonly string[] {
  const panel = load.panelIndex === null ? undefined : control.panels[load.panelIndex];
  const leg = load.legIndex === null ? undefined : control.inverter.legs[load.legIndex];
  const { tank, quotaRunMs, quotaEnergyWh } = load;
  const windows = load.windows.map(
    ({ fromMinute, toMinute }) => `${clockTime(fromMinute)}–${clockTime(toMinute)}`,
  );
  const confirmations = [
    load.hasReport ? "its report" : "",
    load.hasMeter ? "its meter" : "",
  ].filter((text) => text !== "");
  return [
    panel === undefined ? "" : `on panel ${panel.id}`,
    leg === undefined ? "" : `on leg ${leg.id}`,
    tank === null ? "" : `tank up to ${String(tank.surplusC)} °C, off at ${String(tank.limitC)} °C`,
    ...pumpTexts(load),
    ...socketsTexts(load),
    quotaRunMs === null ? "" : `at most ${duration(quotaRunMs)} a day`,
    quotaEnergyWh === null ? "" : `at most ${formatQuantity(quotaEnergyWh, "energy")} a day`,
    ...deadlineTexts(load),
    windows.length === 0 ? "" : `only ${windows.join(", ")}`,
    load.isTolerant ? "may be tried before there is surely power for it" : "",
    load.mayLoadGenerator ? "may run on the generator" : "",
    confirmations.length === 0
      ? "not confirmed by a report or a meter"
      : `confirmed by ${confirmations.join(" and ")}`,
  ].filter((text) => text !== "");
}

function deadlineTexts({ deadline }: LoadSettings): readonly string[] {
  if (deadline === null) return [];
  const { byMinute, reachC, reachRunMs, reachWh, mayDrawToFraction } = deadline;
  const what =
    reachC === null
      ? reachRunMs === null
        ? formatQuantity(reachWh ?? 0, "energy")
        : duration(reachRunMs)
      : `${String(reachC)} °C`;
  const draw =
    mayDrawToFraction === null
      ? "never by the battery"
      : `drawing the battery down to ${percent(mayDrawToFraction)} for it if need be`;
  return [`ready with ${what} by ${clockTime(byMinute)}, ${draw}`];
}

function pumpTexts({ pump }: LoadSettings): readonly string[] {
  if (pump === null) return [];
  const { dryRun, level, pipeMinC } = pump;
  const water =
    dryRun === null
      ? ""
      : dryRun.belowW === null
        ? formatQuantity(dryRun.belowLPerMin ?? 0, "flow")
        : watts(dryRun.belowW);
  return [
    dryRun === null ? "" : `runs dry if under ${water} for ${duration(dryRun.forMs)}`,
    pump.hasSourceContact ? "off while its source is low" : "",
    level === null
      ? ""
      : `fills up to ${percent(level.fullFraction)}, again from ${percent(level.resumeFraction)}`,
    pipeMinC === null ? "" : `off while the pipe is under ${String(pipeMinC)} °C`,
  ];
}

function socketsTexts({ sockets }: LoadSettings): readonly string[] {
  if (sockets === null) return [];
  const { warnMs, finishGraceMs, hasRequest, requestMs } = sockets;
  return [
    hasRequest ? `live for ${duration(requestMs)} after a press of its button` : "",
    warnMs === 0 ? "" : `warns ${duration(warnMs)} before it goes off`,
    finishGraceMs === 0 ? "" : `waits up to ${duration(finishGraceMs)} for what is in use`,
  ];
}

function clockTime(minute: number): string {
  const hours = String(Math.floor(minute / 60)).padStart(2, "0");
  return `${hours}:${String(minute % 60).padStart(2, "0")}`;
}
