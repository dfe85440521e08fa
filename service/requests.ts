/** What people ask for between two ticks. */
import type { HumanRequest, LoadRequest, Unlearn } from "./control/observation.ts";
import type { ControlSettings } from "./control/settings.ts";

/** What is asked of a load; `forMs` counts with `run` and `hold`. */
export interface AskedOfLoad<Request extends LoadRequest = LoadRequest> {
  readonly request: Request;
  /** [ms] ≥ 0 */
  readonly forMs: number;
}

export type LoadOrder = AskedOfLoad<"run" | "hold" | "release">;

export interface Requests {
  /** @returns False if there is no such load or panel. */
  readonly askClear: (kind: "load" | "panel", id: string) => boolean;
  /** @returns What is kept once a tick has decided on it; null if there is no such load. */
  readonly askLoad: (id: string, order: LoadOrder) => Promise<void> | null;
  readonly loadRequest: (id: string) => AskedOfLoad;
  readonly panelRequest: (id: string) => HumanRequest;
  /** @returns False if the site learns nothing of that name. */
  readonly askUnlearn: (what: string) => boolean;
  readonly unlearnRequest: () => Unlearn;
  /** A tick has seen them: each counts for one tick. */
  readonly forget: () => void;
  /** …and has decided. */
  readonly decided: () => void;
}

interface Waiting extends AskedOfLoad {
  readonly answer: () => void;
}

const NOTHING: AskedOfLoad = { request: "none", forMs: 0 };
/** One is taken at each tick; whoever asks for more gets the last one's place. */
const WAITING_MAX = 4;

/** @param whenAsked - Called for each request, so that it does not wait for a regular tick. */
export function createRequests(
  { battery, loads, panels, sources }: ControlSettings,
  whenAsked: () => void,
): Requests {
  const learned = learnedThings({ battery, loads, sources });
  const unlearning: Unlearn[] = [];
  const ofLoads = createQueues(loads, whenAsked);
  const ofPanels = createQueues(panels, whenAsked);
  let seen: readonly Waiting[] = [];
  const clear = { request: "clear", forMs: 0, answer: () => undefined } as const;
  return {
    askClear: (kind, id) => (kind === "load" ? ofLoads : ofPanels).add(id, clear),
    askLoad(id, order) {
      let answer = (): void => undefined;
      const answered = new Promise<void>((resolve) => (answer = resolve));
      return ofLoads.add(id, { ...order, answer }) ? answered : null;
    },
    loadRequest: (id) => ofLoads.first(id) ?? NOTHING,
    panelRequest: (id) => (ofPanels.first(id) === null ? "none" : "clear"),
    askUnlearn(what) {
      const known = learned.find((one) => one === what);
      if (known === undefined) return false;
      // Asking twice before the tick asks for nothing more.
      if (!unlearning.includes(known)) unlearning.push(known);
      whenAsked();
      return true;
    },
    unlearnRequest: () => unlearning[0] ?? "none",
    forget() {
      unlearning.shift();
      if (unlearning.length > 0) whenAsked();
      seen = [...seen, ...ofLoads.shift(), ...ofPanels.shift()];
    },
    decided() {
      for (const { answer } of seen) answer();
      seen = [];
    },
  };
}

/** Everything that a person may have forgotten. */
export function learnedThings({
  battery,
  loads,
  sources,
}: Pick<ControlSettings, "battery" | "loads" | "sources">): readonly Exclude<Unlearn, "none">[] {
  const arrays = sources.filter(({ kind }) => kind === "array");
  return [
    "base",
    "sky",
    ...(battery.chemistry === "lfp" ? [] : (["battery"] as const)),
    ...arrays.map(({ id }) => `array.${id}` as const),
    ...loads.map(({ id }) => `load.${id}` as const),
  ];
}

function createQueues(owners: readonly { readonly id: string }[], whenAsked: () => void) {
  const queues = new Map<string, readonly Waiting[]>(owners.map(({ id }) => [id, []]));
  return {
    add(id: string, waiting: Waiting): boolean {
      const queue = queues.get(id);
      if (queue === undefined) return false;
      for (const { answer } of queue.slice(WAITING_MAX - 1)) answer();
      queues.set(id, [...queue.slice(0, WAITING_MAX - 1), waiting]);
      whenAsked();
      return true;
    },
    first: (id: string): Waiting | null => queues.get(id)?.[0] ?? null,
    /** Takes the first of each away. */
    shift(): readonly Waiting[] {
      const firsts: Waiting[] = [];
      for (const [id, [first, ...others]] of queues) {
        if (first === undefined) continue;
        firsts.push(first);
        queues.set(id, others);
        if (others.length > 0) whenAsked();
      }
      return firsts;
    },
  };
}
