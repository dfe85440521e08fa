/**
 * What people ask for over MQTT, where the settings accept that: the same as over HTTP, and whoever
 * may publish on these topics needs no token besides. A kept request is an old one, and is ignored.
 */
import type { SiteSettings } from "../config/site-settings.ts";
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

const PAYLOAD_BYTES_MAX = 1_024;

/** @param askReload - Asks for the settings to be read anew; undefined: not offered. */
export function createRequestDesk(
  site: SiteSettings,
  { askClear }: Pick<Requests, "askClear">,
  askReload: (() => void) | undefined,
): RequestDesk {
  const answers = answersOf(site, askClear, askReload);
  let accepted = 0;
  let retained = 0;
  let malformed = 0;
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
function answersOf(
  site: SiteSettings,
  askClear: Requests["askClear"],
  askReload: (() => void) | undefined,
) {
  const answers = new Map<string, (body: unknown) => boolean>();
  if (!site.broker.acceptsRequests) return answers;
  const base = `bywash/${site.id}`;
  const clear = (kind: "load" | "panel", id: string) => (body: unknown) =>
    loadRequestSchema.safeParse(body).success && askClear(kind, id);
  for (const { id } of site.control.loads) {
    answers.set(`${base}/load/${id}/request`, clear("load", id));
  }
  for (const { id } of site.control.panels) {
    answers.set(`${base}/panel/${id}/request`, clear("panel", id));
  }
  if (askReload !== undefined) {
    answers.set(`${base}/settings/reload`, (body) => {
      const isRight = reloadRequestSchema.safeParse(body).success;
      if (isRight) askReload();
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
