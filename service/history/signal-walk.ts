/**
 * Every figure of a tick by name: `battery.socFraction`, `loads.spring-pump.powerW`,
 * `decision.ruleCurveFraction`. Lists are walked by the ids of the settings, so that a name keeps
 * its meaning when a load is added above it. Texts (a charge stage) have no minimum: the journal
 * has them.
 */
import type { Decision } from "../control/decision.ts";
import type { Memory } from "../control/memory.ts";
import type { Observation } from "../control/observation.ts";
import type { ControlSettings } from "../control/settings.ts";

export interface Figure {
  readonly name: string;
  /** A truth counts as 1, so that its mean is the share of the time. */
  readonly value: number;
}

export type ListIds = Readonly<Record<string, readonly string[]>>;

export function listIds(control: ControlSettings): ListIds {
  return {
    sources: control.sources.map(({ id }) => id),
    loads: control.loads.map(({ id }) => id),
    panels: control.panels.map(({ id }) => id),
    legPowersW: control.inverter.legs.map(({ id }) => id),
  };
}

/** On because a person, or its own deadline, wants it so: not by what is left over. */
const ASKED_CODES: ReadonlySet<string> = new Set(["running-asked", "running-to-be-ready"]);

/** Only what could be acted upon: fresh readings, and what the core knew. */
export function figuresOf(
  tick: {
    readonly observation: Observation;
    readonly memory: Pick<Memory, "loads">;
    readonly decision: Decision;
  },
  ids: ListIds,
): Figure[] {
  const { observation, memory, decision } = tick;
  const figures: Figure[] = [];
  for (const [key, value] of Object.entries(observation)) {
    walk(figures, { value, name: key, list: ids[key] }, ids);
  }
  for (const [key, value] of Object.entries(decision.site)) {
    add(figures, `decision.${key}`, value);
  }
  for (const [index, stage] of decision.loadStages.entries()) {
    const id = ids["loads"]?.[index] ?? String(index);
    add(figures, `decision.loads.${id}.stage`, stage);
    add(figures, `decision.loads.${id}.allottedW`, decision.loadPowersW[index]);
    // A meter has a figure of its own; without one it is what is told of the load.
    if (observation.loads[index]?.powerW.quality !== "fresh") {
      const rests = memory.loads[index]?.draw.thermostat.drawing === "rests";
      const drawnW = rests ? 0 : decision.loadPowersW[index];
      add(figures, `decision.loads.${id}.drawnW`, drawnW);
    }
    // Left out where it is not so: hardly any minute has it.
    const code = decision.verdicts[index]?.code ?? "";
    if (ASKED_CODES.has(code)) add(figures, `decision.loads.${id}.isAsked`, true);
    if (code === "held-off") add(figures, `decision.loads.${id}.isHeldOff`, true);
  }
  return figures;
}

interface Node {
  readonly value: unknown;
  readonly name: string;
  readonly list: readonly string[] | undefined;
}

/** Time and links stand at the top as bare values; everything measured is a reading. */
function walk(figures: Figure[], { value, name, list }: Node, ids: ListIds): void {
  if (typeof value !== "object" || value === null) return;
  if ("quality" in value && "value" in value) {
    if (value.quality === "fresh") add(figures, name, value.value);
    return;
  }
  for (const [key, item] of Object.entries(value)) {
    walk(figures, { value: item, name: `${name}.${idAt(list, key)}`, list: ids[key] }, ids);
  }
}

function idAt(list: readonly string[] | undefined, key: string): string {
  return list?.[Number(key)] ?? key;
}

function add(figures: Figure[], name: string, value: unknown): void {
  if (typeof value === "boolean") figures.push({ name, value: value ? 1 : 0 });
  if (typeof value === "number" && Number.isFinite(value)) figures.push({ name, value });
}
