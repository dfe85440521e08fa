/**
 * Which connection carries which command. A connection has one last will, and a panel's contactor
 * must open when this process dies: so each contactor gets a connection of its own, whose will is
 * its OFF. The first of them carries the commands of the loads too.
 */
import type { ActuatorSettings } from "../../config/site-settings.ts";
import { invariant } from "../control/invariant.ts";
import { setPointPayload } from "./set-point.ts";

export interface LinkPlan {
  readonly clientId: string;
  /** Published by the broker when the connection dies; never retained. */
  readonly will: {
    readonly topic: string;
    readonly payload: string;
    readonly isRetained: false;
  } | null;
  readonly actuators: readonly ActuatorSettings[];
}

export interface Command {
  readonly topic: string;
  readonly payload: string;
  readonly qos: 1;
  readonly isRetained: false;
  readonly messageExpiryS: number | null;
}

export interface CommandLink {
  readonly plan: LinkPlan;
  /** True once acknowledged; must not queue. */
  readonly publish: (command: Command) => Promise<boolean>;
}

/** @returns None for a site that switches nothing. */
export function planLinks(siteId: string, actuators: readonly ActuatorSettings[]): LinkPlan[] {
  const loads = actuators.filter(({ kind }) => kind !== "panel");
  const panels = actuators.filter(({ kind }) => kind === "panel");
  const clientId = `${siteId}-switching`;
  const [first, ...others] = panels;
  if (first === undefined) {
    return loads.length === 0 ? [] : [{ clientId, will: null, actuators: loads }];
  }
  return [
    { clientId, will: willOf(first), actuators: [...loads, first] },
    ...others.map((panel) => ({
      clientId: `${clientId}-${panel.id}`,
      will: willOf(panel),
      actuators: [panel],
    })),
  ];
}

/**
 * Alike for actuators that are told the same things over the same connection, whatever their place
 * in the list and their times.
 */
export function actuatorPrint(plan: LinkPlan, actuator: ActuatorSettings): string {
  const { kind, id, topic, payloads, setPoint } = actuator;
  const written = setPoint === null ? null : [setPoint.payload, setPoint.unitW, setPoint.decimals];
  return JSON.stringify([plan.clientId, plan.will, kind, id, topic, payloads, written]);
}

function willOf(panel: ActuatorSettings): NonNullable<LinkPlan["will"]> {
  return { topic: panel.topic, payload: payloadOf(panel, 0), isRetained: false };
}

/** @param powerW - For a load whose power can be set. [W] */
export function payloadOf(actuator: ActuatorSettings, stage: number, powerW = 0): string {
  if (stage > 0 && actuator.setPoint !== null) return setPointPayload(actuator.setPoint, powerW);
  const payload = actuator.payloads[stage];
  invariant(payload !== undefined, `${actuator.kind} ${actuator.id} has no stage ${String(stage)}`);
  return payload;
}
