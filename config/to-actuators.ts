/** How each actuator of the file is commanded. */
import type { LoadSection, PanelSection, SettingsFile } from "./schema.ts";
import type { ActuatorSettings, SetPointSettings } from "./site-settings.ts";

export function toActuators(file: SettingsFile): readonly ActuatorSettings[] {
  return [
    ...file.loads.map(loadActuator),
    ...file.loads.flatMap(warningActuator),
    ...file.panels.map(panelActuator),
  ];
}

function loadActuator(load: LoadSection, index: number): ActuatorSettings {
  const { topic, repeat, hold } = load.command;
  const place = {
    kind: "load",
    index,
    id: load.id,
    topic,
    repeatMs: repeat,
    holdMs: hold,
  } as const;
  if (load.kind === "modulating") {
    const setPoint = setPointOf(load);
    const [before, after] = setPoint.payload;
    return { ...place, payloads: [load.command.off ?? `${before}0${after}`], setPoint };
  }
  return { ...place, payloads: payloadsOf(load), setPoint: null };
}

function payloadsOf(load: Exclude<LoadSection, { kind: "modulating" }>): readonly string[] {
  if (load.kind !== "staged") return [load.command.off, load.command.on];
  return [0, ...load.stages.map((_, place) => place + 1)].map((stage) =>
    load.command.payload.replaceAll("{{stage}}", String(stage)),
  );
}

type ModulatingSection = Extract<LoadSection, { kind: "modulating" }>;
type SetPointUnit = "percent" | "watts" | "amps";

const SET_POINT = /\{\{(percent|watts|amps)\}\}/u;
const USUAL_DECIMALS: Readonly<Record<SetPointUnit, number>> = { percent: 1, watts: 0, amps: 1 };

export function setPointUnit({ command }: ModulatingSection): SetPointUnit {
  const unit = SET_POINT.exec(command.payload)?.[1];
  return unit === "percent" || unit === "amps" ? unit : "watts";
}

export function setPointOf(load: ModulatingSection): SetPointSettings {
  const { power, command } = load;
  const unit = setPointUnit(load);
  const [before = "", , after = ""] = command.payload.split(SET_POINT);
  const unitW = { percent: power.most / 100, watts: 1, amps: command.voltage ?? 1 }[unit];
  return {
    payload: [before, after],
    unitW,
    decimals: command.decimals ?? USUAL_DECIMALS[unit],
    minW: power.least,
    stepW: power.step,
  };
}

function warningActuator(load: LoadSection, index: number): readonly ActuatorSettings[] {
  if (load.kind !== "sockets" || load.warnBefore === undefined) return [];
  const { topic, repeat, hold, on, off } = load.warnBefore;
  return [
    {
      kind: "warning",
      index,
      id: load.id,
      topic,
      payloads: [off, on],
      setPoint: null,
      repeatMs: repeat,
      holdMs: hold,
    },
  ];
}

function panelActuator(panel: PanelSection, index: number): ActuatorSettings {
  const { topic, repeat, hold, on, off } = panel.contactor.command;
  return {
    kind: "panel",
    index,
    id: panel.id,
    topic,
    payloads: [off, on],
    setPoint: null,
    repeatMs: repeat,
    holdMs: hold,
  };
}
