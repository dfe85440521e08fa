/**
 * Simulated actuators: what hangs on the command topics of a site.
 *
 * They obey the payloads of the settings, drop to OFF by themselves when the last ON is older than
 * their hold time, and report. A panel's contactor feeds its loads: behind an open one nothing
 * draws power, whatever their own actuators say.
 */
import { setPointPowerW } from "../config/set-point.ts";
import type { ActuatorSettings } from "../config/site-settings.ts";
import { invariant } from "../service/control/invariant.ts";
import { itemAt } from "../service/control/item-at.ts";
import type { ControlSettings, LoadSettings } from "../service/control/settings.ts";

/**
 * - `welded`: a contact that has closed does not open again; the electronics go on obeying.
 * - `dead`: the contact is open and the electronics answer no command.
 * - `by-hand`: switched at the device; commands and hold time do nothing until that ends.
 */
export type ActuatorFault =
  | { readonly kind: "none" }
  | { readonly kind: "welded" }
  | { readonly kind: "dead" }
  | { readonly kind: "by-hand"; readonly stage: number };

export interface ActuatorPlace {
  readonly kind: "load" | "panel";
  readonly index: number;
}

export interface Positions {
  readonly loadStages: readonly number[];
  /** What each load is switched or set to: of its stage, or its set-point. [W] */
  readonly loadPowersW: readonly number[];
  readonly panelsClosed: readonly boolean[];
}

export interface Actuators {
  readonly topics: readonly string[];
  /** @returns False if the topic or the payload is not one of the site's. */
  command(topic: string, payload: string): boolean;
  /** Earliest instant at which one drops by itself; null: none is on. [ms] */
  nextDropMs(): number | null;
  /** Moves the actuators' time to `nowMs`; those whose hold time has run out drop. */
  advanceTo(nowMs: number): void;
  /** Where the contacts really are; a load behind an open panel has no power nevertheless. */
  positions(): Positions;
  /** What really has power, load by load, behind the panels' contactors. */
  fedStages(): readonly number[];
  /** What a load's electronics say. */
  reportedStage(loadIndex: number): number;
  /** True position: an auxiliary contact moves with the main ones. */
  isPanelClosed(panelIndex: number): boolean;
  isByHand(loadIndex: number): boolean;
  setFault(place: ActuatorPlace, fault: ActuatorFault): void;
}

interface Actuator {
  readonly settings: ActuatorSettings;
  /** Last obeyed command, or 0 after a drop. */
  stage: number;
  /** Position of the contact. */
  contact: number;
  /** Set-point of a load whose power can be set, while its contact is closed. [W] */
  powerW: number;
  lastOnMs: number;
  fault: ActuatorFault;
}

export function createActuators(
  settings: readonly ActuatorSettings[],
  control: ControlSettings,
): Actuators {
  const all = settings.map(newActuator);
  const byTopic = new Map(all.map((actuator) => [actuator.settings.topic, actuator]));
  const find = ({ kind, index }: ActuatorPlace): Actuator => {
    const found = all.find((one) => one.settings.kind === kind && one.settings.index === index);
    invariant(found !== undefined, `there is no actuator for ${kind} ${index}`);
    return found;
  };
  const loads = control.loads.map((_, index) => find({ kind: "load", index }));
  const panels = control.panels.map((_, index) => find({ kind: "panel", index }));
  let nowMs = 0;

  return {
    topics: all.map((actuator) => actuator.settings.topic),
    command(topic, payload) {
      const actuator = byTopic.get(topic);
      const asked = actuator === undefined ? null : readCommand(actuator.settings, payload);
      if (actuator === undefined || asked === null) return false;
      obey(actuator, asked, nowMs);
      return true;
    },
    nextDropMs() {
      const drops = all.filter(holds).map((one) => one.lastOnMs + one.settings.holdMs);
      return drops.length === 0 ? null : Math.min(...drops);
    },
    advanceTo(toMs) {
      invariant(toMs >= nowMs, "simulated time does not go back");
      nowMs = toMs;
      for (const one of all) {
        if (holds(one) && nowMs >= one.lastOnMs + one.settings.holdMs) obey(one, OFF, nowMs);
      }
    },
    positions: () => ({
      loadStages: loads.map(({ contact }) => contact),
      loadPowersW: loads.map((load, index) => switchedPowerW(load, itemAt(control.loads, index))),
      panelsClosed: panels.map(({ contact }) => contact > 0),
    }),
    fedStages: () =>
      control.loads.map(({ panelIndex }, index) => {
        const isFed = panelIndex === null || (panels[panelIndex]?.contact ?? 0) > 0;
        return isFed ? (loads[index]?.contact ?? 0) : 0;
      }),
    reportedStage: (loadIndex) => loads[loadIndex]?.stage ?? 0,
    isPanelClosed: (panelIndex) => (panels[panelIndex]?.contact ?? 0) > 0,
    isByHand: (loadIndex) => loads[loadIndex]?.fault.kind === "by-hand",
    setFault: (place, fault) => setFault(find(place), fault),
  };
}

function newActuator(settings: ActuatorSettings): Actuator {
  return { settings, stage: 0, contact: 0, powerW: 0, lastOnMs: 0, fault: { kind: "none" } };
}

/** On by command, and so about to drop unless told again. */
function holds({ stage, fault }: Actuator): boolean {
  return stage > 0 && fault.kind !== "by-hand";
}

interface Asked {
  readonly stage: number;
  readonly powerW: number;
}

const OFF: Asked = { stage: 0, powerW: 0 };

/** @returns null: this actuator does not understand it. */
function readCommand({ payloads, setPoint }: ActuatorSettings, payload: string): Asked | null {
  const stage = payloads.indexOf(payload);
  if (stage >= 0) return { stage, powerW: 0 };
  const powerW = setPoint === null ? undefined : setPointPowerW(setPoint, payload);
  if (powerW === undefined) return null;
  return powerW > 0 ? { stage: 1, powerW } : OFF;
}

function switchedPowerW({ contact, powerW }: Actuator, load: LoadSettings): number {
  if (contact === 0) return 0;
  // By hand a load of variable power runs at its least: nobody has set it.
  if (load.modulating !== null && powerW > 0) return Math.min(powerW, load.modulating.maxW);
  return load.stagesW[contact - 1] ?? 0;
}

function obey(actuator: Actuator, { stage, powerW }: Asked, nowMs: number): void {
  if (actuator.fault.kind === "dead" || actuator.fault.kind === "by-hand") return;
  if (stage > 0) actuator.lastOnMs = nowMs;
  actuator.stage = stage;
  const isStuck = actuator.fault.kind === "welded" && actuator.contact > 0;
  actuator.contact = isStuck ? Math.max(stage, actuator.contact) : stage;
  actuator.powerW = isStuck ? Math.max(powerW, actuator.powerW) : powerW;
}

function setFault(actuator: Actuator, fault: ActuatorFault): void {
  const wasByHand = actuator.fault.kind === "by-hand";
  actuator.fault = fault;
  if (fault.kind === "by-hand") {
    actuator.stage = fault.stage;
    actuator.contact = fault.stage;
    actuator.powerW = 0;
  } else if (fault.kind === "dead" || wasByHand) {
    actuator.stage = 0;
    actuator.contact = 0;
    actuator.powerW = 0;
  } else if (fault.kind === "none") actuator.contact = actuator.stage;
}
