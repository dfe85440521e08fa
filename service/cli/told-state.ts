/** The state that a running service answered, told in sentences of at most 80 columns. */
import { z } from "zod";
import { UserError } from "../errors.ts";
import { hangingLines } from "../hanging-text.ts";

const verdictSchema = z.object({ id: z.string(), label: z.string(), sentence: z.string() });
const stateSchema = z.object({
  at: z.string(),
  mode: z.enum(["active", "shadow"]),
  isTimeSimulated: z.boolean().default(false),
  site: z.object({ id: z.string(), label: z.string() }),
  verdict: z
    .object({
      sentence: z.string(),
      findings: z.array(z.object({ severity: z.string(), sentence: z.string() })),
    })
    .nullable(),
  loads: z.array(verdictSchema),
  panels: z.array(verdictSchema),
});
type State = z.output<typeof stateSchema>;

/** @throws UserError if `id` is given and nothing has it. */
export function tellState(answer: unknown, id: string | undefined): string {
  return told(chosen(stateSchema.parse(answer), id));
}

/**
 * One load or panel as the service gave it, with all its figures; or the whole state.
 *
 * @throws UserError if `id` is given and nothing has it.
 */
export function selectState(answer: unknown, id: string | undefined): unknown {
  if (id === undefined) return answer;
  const state = chosen(stateSchema.parse(answer), id);
  const owners = z.array(z.looseObject({}));
  const full = z.looseObject({ loads: owners, panels: owners }).parse(answer);
  return (state.loads.length > 0 ? full.loads : full.panels).find((owner) => owner["id"] === id);
}

/** @throws UserError if nothing has that id. */
function chosen(state: State, id: string | undefined): State {
  if (id === undefined) return state;
  const loads = state.loads.filter((load) => load.id === id);
  const panels = state.panels.filter((panel) => panel.id === id);
  if (loads.length + panels.length > 0) return { ...state, loads, panels };
  throw new UserError([
    {
      code: "unknown-id",
      where: id,
      expected: `one of ${[...state.loads, ...state.panels].map((one) => one.id).join(", ")}`,
    },
  ]);
}

function told(state: State): string {
  const shadow = state.mode === "shadow" ? "; shadow mode, nothing is commanded" : "";
  const time = state.isTimeSimulated ? " of a simulated time" : "";
  const lines = [`${state.site.label}, ${state.at}${time}${shadow}`];
  if (state.verdict === null) lines.push("Nothing has been decided yet.");
  else {
    lines.push(`${capitalised(state.verdict.sentence)}.`);
    for (const { severity, sentence } of state.verdict.findings) {
      lines.push(`${capitalised(severity)}: ${sentence}.`);
    }
  }
  lines.push("");
  for (const { label, sentence } of [...state.loads, ...state.panels]) {
    lines.push(`${label}: ${sentence}.`);
  }
  return lines.flatMap((line) => hangingLines("", line, 2)).join("\n");
}

function capitalised(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}
