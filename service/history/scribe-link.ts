/** How the history reaches whoever writes for it. */
import type { FromScribe, ScribeOptions, ToScribe } from "./messages.ts";

/** A thread that writes; it may end at any time. */
export interface ScribeLink {
  readonly post: (message: ToScribe) => void;
  readonly end: () => Promise<void>;
}

export type StartScribe = (
  options: ScribeOptions,
  handlers: {
    readonly onMessage: (message: FromScribe) => void;
    /** It has ended by itself. */
    readonly onEnd: (error: unknown) => void;
  },
) => ScribeLink;
