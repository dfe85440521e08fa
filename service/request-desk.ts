/**
 * What people ask for over MQTT, where the settings accept that: the same as over HTTP, and whoever
 * may publish on these topics needs no token besides. A kept request is an old one, and is ignored.
 */
import type { SiteSettings } from "../config/site-settings.ts";
import { clearRequestSchema, loadOrder } from "./load-request.ts";
import type { Requests } from "./requests.ts";
import { loadRequestSchema, reloadRequestSchema } from "./published-schemas.ts";

export interface RequestMessage {
  readonly topic: string;
  readonly payload: Uint8Array;
  readonly isRetained: boolean;
}

export interface RequestCounts {
  readonly accepted: number;
  /** Ignored: from before we listened. */
  readonly retained: number;
  /** Ignored: not understood. */
  readonly malformed: number;
}

export interface RequestDesk {
  /** None where the settings refuse requests. */
  readonly topics: readonly string[];
  /** @returns False if the topic is none of these. */
  receive(message: RequestMessage): boolean;
  counts(): RequestCounts;
}

const NO_COUNTS: RequestCounts = { accepted: 0, retained: 0, malformed: 0 };
const PAYLOAD_BYTES_MAX = 1_024;

export interface DeskOptions {
  readonly site: SiteSettings;
  readonly requests: Pick<Requests, "askClear" | "askLoad">;
  /** Reads the settings anew; null: not offered. */
  readonly reload: (() => unknown) | null;
  /** Of a desk that this one takes over from. */
  readonly countsBefore: RequestCounts | null;
}

export function createRequestDesk(options: DeskOptions): RequestDesk {
  const answers = answersOf(options);
  let { accepted, retained, malformed } = options.countsBefore ?? NO_COUNTS;
  return {
    topics: [...answers.keys()],
    receive({ topic, payload, isRetained }) {
      const answer = answers.get(topic);
      if (answer === undefined) return false;
      if (isRetained) retained += 1;
      else if (answer(parsed(payload))) accepted += 1;
      else malformed += 1;
      return true;
    },
    counts: () => ({ accepted, retained, malformed }),
  };
}

/** For each topic, what does what is asked there, and returns false if it is not understood. */
function answersOf({ site, requests: { askClear, askLoad }, reload }: DeskOptions) {
  const answers = new Map<string, (body: unknown) => boolean>();
  if (!site.broker.acceptsRequests) return answers;
  const base = `bywash/${site.id}`;
  const ofLoad = (id: string) => (body: unknown) => {
    const { success, data } = loadRequestSchema.safeParse(body);
    if (!success) return false;
    return data.request === "clear" ? askClear("load", id) : askLoad(id, loadOrder(data)) !== null;
  };
  const ofPanel = (id: string) => (body: unknown) =>
    clearRequestSchema.safeParse(body).success && askClear("panel", id);
  for (const { id } of site.control.loads) {
    answers.set(`${base}/load/${id}/request`, ofLoad(id));
  }
  for (const { id } of site.control.panels) {
    answers.set(`${base}/panel/${id}/request`, ofPanel(id));
  }
  if (reload !== null) {
    answers.set(`${base}/settings/reload`, (body) => {
      const isRight = reloadRequestSchema.safeParse(body).success;
      if (isRight) reload();
      return isRight;
    });
  }
  return answers;
}

function parsed(payload: Uint8Array): unknown {
  if (payload.length > PAYLOAD_BYTES_MAX) return undefined;
  try {
    return JSON.parse(new TextDecoder("utf-8", { fatal: true }).decode(payload));
  } catch {
    return undefined;
  }
}
